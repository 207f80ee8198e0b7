export const percent = (share: number | null): string => (share === null ? '–' : `${Math.round(share * 100)} %`);
/** Hours below two days, else days. */
export function spanWords(hours: number | null): string {
  if (hours === null) return '–';
  return hours < 48 ? `${Math.round(hours * 10) / 10} h` : `${Math.round((hours / 24) * 10) / 10} d`;
}
/** A change from its logarithm. */
export const changeWords = (effect: number | null): string => (effect === null ? '–' : `${Math.round(Math.expm1(effect) * 100)} %`);

/** Rows as a table that reads as plain text and as Markdown. */
export function linesOf(heads: readonly string[], rows: readonly (readonly string[])[]): string[] {
  const widths = heads.map((head, column) => Math.max(3, head.length, ...rows.map((row) => (row[column] ?? '').length)));
  const line = (cells: readonly string[]): string => `| ${widths.map((width, column) => (column === 0 ? (cells[column] ?? '').padEnd(width) : (cells[column] ?? '').padStart(width))).join(' | ')} |`;
  return [line(heads), `|${widths.map((width, column) => (column === 0 ? '-'.repeat(width + 2) : `${'-'.repeat(width + 1)}:`)).join('|')}|`, ...rows.map(line)];
}
