import { parseChannel } from '../channels.ts';
import { parseGeneratorKey } from '../ids.ts';
import type { Series } from '../reading-batch.ts';
import { DAY_MS } from '../time.ts';
import { isGenerator, READING, RECEIPT, RECEIPT_SLOT_MS, slotOf, timeBetween } from './influxdb-schema.ts';
import type { InfluxServer } from './influxdb-server.ts';
import { newSeriesState, type SeriesBook, seriesName, type SeriesState } from './series-book.ts';

/** A series from the tags of an answer; `undefined` if somebody else wrote it. */
export function seriesOfTags(tags: Readonly<Record<string, string>>): Series | undefined {
  const [generator, channel] = [parseGeneratorKey(tags['generator'] ?? ''), parseChannel(tags['channel'] ?? '')];
  return generator === undefined || channel === undefined ? undefined : { generator, channel };
}

/** Generators counted in one request: the server answers when it has counted them all, and must do so before we give it up. */
const COUNTED_AT_ONCE = 20;

/** What the server holds, series by series: its first and newest reading, and the newest receipt. How many there are is counted apart. */
export async function readInfluxBook(server: InfluxServer): Promise<SeriesBook> {
  const book: SeriesBook = { byId: [], byName: new Map(), lastReceivedMs: 0 };
  const from = server.from(READING);
  const stateOf = (series: Series): SeriesState => {
    const known = book.byName.get(seriesName(series));
    if (known !== undefined) return known;
    const state = newSeriesState(book.byId.length, series);
    book.byId.push(state);
    book.byName.set(seriesName(series), state);
    return state;
  };
  const statements = ['first(value)', 'last(value), received'].map((what) => `SELECT ${what} FROM ${from} GROUP BY generator, channel`);
  await server.query(statements, ({ statement, tags, values }) => {
    const series = seriesOfTags(tags);
    const row = values[0];
    if (series === undefined || row === undefined) return;
    const state = stateOf(series);
    if (statement === 0) state.firstAtMs = Number(row[0]);
    else Object.assign(state, { lastAtMs: Number(row[0]), lastValue: Number(row[1]), lastReceivedMs: Number(row[2]) });
  }, { patient: true });
  book.lastReceivedMs = await newestReceipt(server, book);
  return book;
}

/** Count the readings of every series. The server reads them all for that, 2 to 3 M a second, so it isn't done before somebody asks. */
export async function countReadings(server: InfluxServer, book: SeriesBook): Promise<void> {
  const counts = new Map<string, number>();
  const generators = [...new Set(book.byId.map((one) => one.series.generator))];
  for (let start = 0; start < generators.length; start += COUNTED_AT_ONCE) {
    await server.query(generators.slice(start, start + COUNTED_AT_ONCE).map((one) => `SELECT count(value) FROM ${server.from(READING)} WHERE ${isGenerator([one])} GROUP BY generator, channel`), ({ tags, values }) => {
      const series = seriesOfTags(tags);
      if (series !== undefined) counts.set(seriesName(series), Number(values[0]?.[1] ?? 0));
    }, { patient: true });
  }
  for (const one of book.byId) one.count = counts.get(seriesName(one.series)) ?? 0;
}

/** The newest receipt of all: looked for in the days that the last hours of receipt name, since the field itself can only be found by reading all. */
async function newestReceipt(server: InfluxServer, book: SeriesBook): Promise<number> {
  const known = book.byId.reduce((newest, one) => Math.max(newest, one.lastReceivedMs), 0);
  // A mark is written before its readings, and may stand there without them: then an earlier hour is asked.
  for (let beforeMs = Infinity; ; ) {
    const slotMs = await newestSlot(server, beforeMs);
    if (slotMs === undefined || slotMs + RECEIPT_SLOT_MS <= known) return known;
    const days = new Set<number>();
    await server.query([`SELECT day FROM ${server.from(RECEIPT)} WHERE ${timeBetween(slotMs, slotMs + RECEIPT_SLOT_MS)}`], ({ values }) => {
      for (const row of values) days.add(Number(row[1]));
    });
    let newest = known;
    const asked = [...days].map((day) => `SELECT max(received) FROM ${server.from(READING)} WHERE ${timeBetween(day * DAY_MS, (day + 1) * DAY_MS)}`);
    for (let start = 0; start < asked.length; start += 100) {
      await server.query(asked.slice(start, start + 100), ({ values }) => {
        newest = Math.max(newest, Number(values[0]?.[1] ?? 0));
      }, { patient: true });
    }
    if (newest >= slotMs) return newest;
    beforeMs = slotMs;
  }
}

async function newestSlot(server: InfluxServer, beforeMs: number): Promise<number | undefined> {
  let slotMs: number | undefined;
  await server.query([`SELECT last(day) FROM ${server.from(RECEIPT)} WHERE ${timeBetween(0, beforeMs)}`], ({ values }) => {
    slotMs = slotOf(Number(values[0]?.[0]));
  });
  return slotMs;
}
