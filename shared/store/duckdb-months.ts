import type { DuckDBConnection } from '@duckdb/node-api';
import { DAY_MS, HOUR_MS } from '../time.ts';
import { numbers, transaction } from './duckdb-session.ts';
import { monthFromName, nextMonthStartMs } from './utc-month.ts';

/** A month counts as closed this long after its end: gateways that were off send two days late in one burst. */
const CLOSED_AFTER_MS = 3 * DAY_MS;
/** A sorted month is sorted again once this share of it came after. Below, reading costs a few per cent more. */
const UNSORTED_SHARE = 0.05;

export function monthTable(month: string): string {
  return `readings_${month}`;
}

export function createMonthSql(month: string): string {
  return `CREATE TABLE IF NOT EXISTS ${monthTable(month)} (series INTEGER, at_ms BIGINT, value DOUBLE, quality UTINYINT, received_ms BIGINT)`;
}

/** Months that overlap [fromMs, toMs), in order. */
export function monthsBetween(months: ReadonlySet<string>, fromMs: number, toMs: number): string[] {
  return [...months].filter((month) => monthFromName(month) < toMs && nextMonthStartMs(monthFromName(month)) > fromMs).sort();
}

/** Closed months that are worth sorting by copy: about half the bytes and a fifth of the time to read one series. */
export async function monthsToSort(connection: DuckDBConnection, months: ReadonlySet<string>, nowMs: number): Promise<string[]> {
  const wanted: string[] = [];
  for (const month of [...months].sort()) {
    if (nextMonthStartMs(monthFromName(month)) + CLOSED_AFTER_MS > nowMs) continue;
    const [row] = await numbers(connection, `SELECT (SELECT count(*) FROM ${monthTable(month)})::DOUBLE, coalesce((SELECT max(rows) FROM sorted_months WHERE month = '${month}'), 0)::DOUBLE`);
    const [rows = 0, sorted = 0] = row ?? [];
    if (rows > 0 && rows - sorted > UNSORTED_SHARE * rows) wanted.push(month);
  }
  return wanted;
}

/** Tables that a stopped sorting left behind. */
export function dropLeftoversSql(months: ReadonlySet<string>): string {
  return [...months].map((month) => `DROP TABLE IF EXISTS sorted_${month};`).join('\n');
}

/**
 * First half of sorting a month: copy what it holds now, in order, beside it. Takes seconds for millions of rows,
 * and appends go on meanwhile: rows only ever come at the end, so `rowid` tells the copied from the later ones.
 * Gives the number of the first row that isn't copied.
 */
export async function copySorted(connection: DuckDBConnection, month: string): Promise<number> {
  const [row] = await numbers(connection, `SELECT coalesce(max(rowid) + 1, 0)::DOUBLE FROM ${monthTable(month)}`);
  const end = row?.[0] ?? 0;
  await connection.run(`CREATE OR REPLACE TABLE sorted_${month} AS SELECT * FROM ${monthTable(month)} WHERE rowid < ${end} ORDER BY series, at_ms`);
  return end;
}

/** Second half, while nothing is appended: add the rows that came meanwhile, and let the copy take the name. */
export async function swapSorted(connection: DuckDBConnection, month: string, end: number): Promise<void> {
  const table = monthTable(month);
  await transaction(connection, async () => {
    await connection.run(`INSERT INTO sorted_${month} SELECT * FROM ${table} WHERE rowid >= ${end} ORDER BY rowid`);
    await connection.run(`DROP TABLE ${table}`);
    await connection.run(`ALTER TABLE sorted_${month} RENAME TO ${table}`);
    await connection.run(`DELETE FROM sorted_months WHERE month = '${month}'`);
    await connection.run(`INSERT INTO sorted_months VALUES ('${month}', ${end})`);
  });
}

/**
 * Keep an expired month as one row an hour and series, and drop its readings, in one transaction.
 * A month that expires a second time (readings came in for it afterwards) adds rows for the same hours; who reads adds them up.
 */
export async function expireMonth(connection: DuckDBConnection, month: string): Promise<void> {
  await transaction(connection, async () => {
    await connection.run(`INSERT INTO rollups SELECT series, at_ms // ${HOUR_MS} * ${HOUR_MS} AS from_ms, count(*), min(value), avg(value), max(value) FROM ${monthTable(month)} GROUP BY ALL ORDER BY series, from_ms`);
    await connection.run(`DROP TABLE ${monthTable(month)}`);
    await connection.run(`DELETE FROM sorted_months WHERE month = '${month}'`);
  });
}
