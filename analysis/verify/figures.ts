/** A figure for a sentence: three digits that count, without an exponent, with a real minus sign. */
export function figure(value: number): string {
  if (value === 0) return '0';
  const digits = Math.max(0, Math.min(6, 2 - Math.floor(Math.log10(Math.abs(value)))));
  return String(Number(value.toFixed(digits))).replace('-', '−');
}

/** A ratio minus one as per cent with its sign: +12 %. */
export function changeFigure(ratioMinusOne: number): string {
  const percent = Math.round(ratioMinusOne * 100);
  return `${percent > 0 ? '+' : percent < 0 ? '−' : ''}${Math.abs(percent)} %`;
}

/** Minutes as people say them: 25 min, 3 h, 2 days. */
export function minutesFigure(minutes: number): string {
  if (minutes < 1) return `${Math.round(minutes * 60)} s`;
  if (minutes < 100) return `${Math.round(minutes)} min`;
  if (minutes < 2 * 1440) return `${figure(Math.round(minutes / 6) / 10)} h`;
  return `${figure(Math.round(minutes / 144) / 10)} days`;
}
