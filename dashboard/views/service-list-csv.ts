import type { ServiceListRow } from '../../shared/api.ts';

type Cell = string | number | null;
type Column = readonly [header: string, cell: (row: ServiceListRow) => Cell];

const COLUMNS: readonly Column[] = [
  ['can wait until', (row) => row.byAt],
  ['because of', (row) => row.byBecause],
  ['site', (row) => row.site],
  ['site name', (row) => row.siteName],
  ['area', (row) => row.area],
  ['access', (row) => row.access],
  ['generator', (row) => row.generator],
  ['generator name', (row) => row.generatorName],
  ['cause', (row) => row.causeSays],
  ['probability', (row) => row.probability],
  ['limit', (row) => row.limit],
  ['service due', (row) => row.dueAt],
  ['hour meter, h', (row) => row.runHours],
  ['who must go', (row) => row.whoMustGo],
  ['what to bring', (row) => row.bring.join('; ')],
  ['why this rank', (row) => row.because],
];

/** What a spreadsheet takes for the start of a formula, full-width forms included. */
const FORMULA_START = /^[=+\-@\t\r\n＝＋－＠]/;
const PLAIN_NUMBER = /^[+-]?\d+(?:[.,]\d+)?$/;

/**
 * One cell of RFC 4180. A text that a spreadsheet would run as a formula gets an apostrophe before it; a number,
 * also one below 0, also one written as text, stays as it is.
 * @see RFC 4180, section 2
 */
export function csvCell(cell: Cell): string {
  if (cell === null) return '';
  if (typeof cell === 'number') return String(cell);
  const safe = FORMULA_START.test(cell) && !PLAIN_NUMBER.test(cell) ? `'${cell}` : cell;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

/** The service list as CSV: a header line, then a line for each row, lines end in CR LF. */
export function serviceListCsv(rows: readonly ServiceListRow[]): string {
  const lines = [COLUMNS.map(([header]) => csvCell(header)), ...rows.map((row) => COLUMNS.map(([, cell]) => csvCell(cell(row))))];
  return lines.map((cells) => `${cells.join(',')}\r\n`).join('');
}
