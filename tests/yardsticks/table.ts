/** One yardstick's result: a title, a table and what else is to be said. Numbers are printed as they are given. */
export type Table = { readonly title: string; readonly columns: readonly string[]; readonly rows: readonly (readonly (string | number)[])[]; readonly notes: readonly string[] };

export function asText({ title, columns, rows, notes }: Table): string {
  const lines = [columns, ...rows].map((row) => row.map(String));
  const widths = columns.map((_, i) => Math.max(...lines.map((row) => (row[i] ?? '').length)));
  const text = lines.map((row) => row.map((cell, i) => (i === 0 ? cell.padEnd(widths[i] as number) : cell.padStart(widths[i] as number))).join('  ').trimEnd());
  return [title, ...text, ...notes].join('\n');
}

/** `digits` behind the point. */
export const fixed = (value: number, digits: number): string => (Number.isFinite(value) ? value.toFixed(digits) : '-');

export const percent = (ratio: number, digits = 0): string => (Number.isFinite(ratio) ? `${(100 * ratio).toFixed(digits)} %` : '-');

export const meanOf = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
