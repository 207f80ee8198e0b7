/** The UTC month of a time as `2026_11`: the name of the table that holds its readings. */
export function monthName(ms: number): string {
  return new Date(ms).toISOString().slice(0, 7).replace('-', '_');
}

/** Start of the UTC month that a time lies in. */
export function monthStartMs(ms: number): number {
  const date = new Date(ms);
  return Date.UTC(date.getUTCFullYear(), date.getUTCMonth(), 1);
}

/** Start of the UTC month after the one that a time lies in. */
export function nextMonthStartMs(ms: number): number {
  const date = new Date(ms);
  return Date.UTC(date.getUTCFullYear(), date.getUTCMonth() + 1, 1);
}

/** Start of a month from its name. @throws {RangeError} if it is no such name. */
export function monthFromName(name: string): number {
  const match = /^(\d{4})_(\d{2})$/.exec(name);
  if (match === null) throw new RangeError(`Cannot read month as it must look like 2026_11: current value is ${JSON.stringify(name)}`);
  return Date.UTC(Number(match[1]), Number(match[2]) - 1, 1);
}
