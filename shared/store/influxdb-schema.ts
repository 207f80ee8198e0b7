import type { Channel } from '../channels.ts';
import type { GeneratorKey } from '../ids.ts';
import type { Series } from '../reading-batch.ts';
import { DAY_MS, HOUR_MS } from '../time.ts';

/*
 * How readings lie in InfluxDB, for people who look at them with tools of their own:
 *
 *   lull_reading,channel=<channel>,generator=<site>/<generator> value=<kept unit>,received=<ms since 1970>i[,quality=<flags>i] <device time, ms>
 *   lull_receipt,generator=<site>/<generator> day=<days since 1970>i <hour of receipt + days, ms>
 *   lull_hourly,channel=<channel>,generator=<site>/<generator> readings=<count>i,low=…,mean=…,high=… <hour + what tells its sums, ms>
 *
 * - One measurement of our own name, as the database may hold other things of its owner.
 * - Tags are what we ask by, in order of their names, as the server sorts them anyway. Site and generator are one tag:
 *   we never ask by site alone, and a series more for each tag would help nobody.
 * - `value` is always a float, so that no first whole number makes the field an integer and all later ones are refused.
 * - Time is the device's, since charts and days are asked by it; precision ms, as devices know no better and a whole
 *   number of ms survives JSON. Series and time are the key of a reading here as there.
 * - Each field has time stamps of its own on disk: so `quality` is written only where it isn't plain.
 * - The log in order of receipt can't be asked by time. `lull_receipt` says which days of device time came in within
 *   which hour: one point for a generator, an hour and a day. Its time stamp is made of the hour and the number of the
 *   day, so that writing it again changes nothing, no mark takes the place of another, and no tag grows with time.
 * - `lull_hourly` is what is left of expired months. Its time stamp is the hour's start and some ms that follow from its sums:
 *   rolled up again after a crash the same hour takes its own place, and what came late for it stands beside it.
 */
export const READING = 'lull_reading';
export const RECEIPT = 'lull_receipt';
export const HOURLY = 'lull_hourly';
export const RECEIPT_SLOT_MS = HOUR_MS;

/** The server counts nanoseconds since 1970 in 63 bits: up to 2262. */
export const NEWEST_TIME_MS = 9_223_372_036_854;

/** The part of a line that all readings of a series share. */
export function linePrefix(series: Series): string {
  return `${READING},channel=${tagText(series.channel)},generator=${tagText(series.generator)} value=`;
}

export function readingLine(prefix: string, atMs: number, value: number, quality: number, receivedMs: number): string {
  return quality === 0 ? `${prefix}${value},received=${receivedMs}i ${atMs}` : `${prefix}${value},received=${receivedMs}i,quality=${quality}i ${atMs}`;
}

/** A day of device time by its number since 1970. Below 2,932,897 for the years that a reading may have, so it fits into an hour of ms. */
export function dayNumber(atMs: number): number {
  return Math.floor(atMs / DAY_MS);
}

/** The hour that a receipt lies in, as its start. */
export function slotOf(receivedMs: number): number {
  return Math.floor(receivedMs / RECEIPT_SLOT_MS) * RECEIPT_SLOT_MS;
}

export function receiptLine(generator: GeneratorKey, slotMs: number, day: number): string {
  return `${RECEIPT},generator=${tagText(generator)} day=${day}i ${slotMs + day}`;
}

/** An hour of readings that are to be dropped. */
export function hourlyLine(series: Series, hourMs: number, sums: { readonly count: number; readonly min: number; readonly mean: number; readonly max: number }): string {
  const fields = `readings=${sums.count}i,low=${sums.min},mean=${sums.mean},high=${sums.max}`;
  return `${HOURLY},channel=${tagText(series.channel)},generator=${tagText(series.generator)} ${fields} ${hourMs + (hashOf(fields) % HOUR_MS)}`;
}

/** FNV-1a, 32 bits. */
function hashOf(text: string): number {
  let hash = 0x811c9dc5;
  for (let index = 0; index < text.length; index += 1) hash = Math.imul(hash ^ text.charCodeAt(index), 0x01000193);
  return hash >>> 0;
}

/** The columns that a batch is made of, of the readings that a condition picks; channel by channel, each in order of device time. */
export function selectReadings(from: string, where: string, groupBy = 'channel'): string {
  return `SELECT value, quality, received FROM ${from} WHERE ${where} GROUP BY ${groupBy}`;
}

/** Device times in [fromMs, toMs); infinite ends become those of what the server can hold. */
export function timeBetween(fromMs: number, toMs: number): string {
  return `time >= ${timeLiteral(fromMs)} AND time < ${timeLiteral(toMs)}`;
}

export function receivedBetween(fromMs: number, toMs: number): string {
  return `received >= ${wholeNumber(fromMs)} AND received < ${wholeNumber(toMs)}`;
}

export function isGenerator(generators: readonly GeneratorKey[]): string {
  return `(${generators.map((one) => `generator = ${quoted(one)}`).join(' OR ')})`;
}

export function isChannel(channels: readonly Channel[]): string {
  return `(${channels.map((one) => `channel = ${quoted(one)}`).join(' OR ')})`;
}

function timeLiteral(ms: number): string {
  return `${Math.ceil(Math.min(Math.max(ms, 0), NEWEST_TIME_MS))}ms`;
}

function wholeNumber(value: number): string {
  return String(Math.ceil(Math.min(Math.max(value, -Number.MAX_SAFE_INTEGER), Number.MAX_SAFE_INTEGER)));
}

/** A text value of InfluxQL. */
export function quoted(text: string): string {
  return `'${text.replaceAll('\\', '\\\\').replaceAll("'", "\\'")}'`;
}

/** A name of InfluxQL. */
export function quotedName(name: string): string {
  return `"${name.replaceAll('\\', '\\\\').replaceAll('"', '\\"')}"`;
}

function tagText(text: string): string {
  return text.replaceAll(/[,= \\]/g, '\\$&');
}
