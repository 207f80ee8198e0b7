/** Text that can stand in HTML and in SVG. */
export function escaped(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;');
}

export const INK = '#1a2230';
export const PALE = '#d5dce6';
export const MIDDLE = '#7d9cc4';
export const DARK = '#2b5c9e';
export const WARM = '#b5642a';

/** A picture with its words for who can't see it. */
export function picture(width: number, height: number, label: string, inner: readonly string[]): string {
  return `<svg viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" role="img" aria-label="${escaped(label)}" font-family="system-ui,sans-serif" font-size="12" fill="${INK}">${inner.join('')}</svg>`;
}

export function text(x: number, y: number, words: string, anchor: 'start' | 'middle' | 'end' = 'start', more = ''): string {
  return `<text x="${round(x)}" y="${round(y)}" text-anchor="${anchor}"${more}>${escaped(words)}</text>`;
}

export function rect(x: number, y: number, width: number, height: number, fill: string): string {
  return `<rect x="${round(x)}" y="${round(y)}" width="${round(Math.max(0, width))}" height="${round(height)}" fill="${fill}"/>`;
}

export function line(x1: number, y1: number, x2: number, y2: number, stroke = PALE): string {
  return `<line x1="${round(x1)}" y1="${round(y1)}" x2="${round(x2)}" y2="${round(y2)}" stroke="${stroke}"/>`;
}

export function round(value: number): number {
  return Math.round(value * 10) / 10;
}
