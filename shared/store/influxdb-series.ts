import { parseChannel } from '../channels.ts';
import { parseGeneratorKey } from '../ids.ts';
import type { Series } from '../reading-batch.ts';
import { DAY_MS } from '../time.ts';
import { READING, RECEIPT, RECEIPT_SLOT_MS, slotOf, timeBetween } from './influxdb-schema.ts';
import type { InfluxServer } from './influxdb-server.ts';
import { newSeriesState, type SeriesBook, seriesName, type SeriesState } from './series-book.ts';

/** A series from the tags of an answer; `undefined` if somebody else wrote it. */
export function seriesOfTags(tags: Readonly<Record<string, string>>): Series | undefined {
  const [generator, channel] = [parseGeneratorKey(tags['generator'] ?? ''), parseChannel(tags['channel'] ?? '')];
  return generator === undefined || channel === undefined ? undefined : { generator, channel };
}

/** What the server holds, series by series: its first and newest reading and how many there are; and the newest receipt. */
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
  const statements = ['first(value), received', 'last(value), received', 'count(value)'].map((what) => `SELECT ${what} FROM ${from} GROUP BY generator, channel`);
  await server.query(statements, ({ statement, tags, values }) => {
    const series = seriesOfTags(tags);
    const row = values[0];
    if (series === undefined || row === undefined) return;
    const state = stateOf(series);
    if (statement === 0) state.firstAtMs = Number(row[0]);
    else if (statement === 1) Object.assign(state, { lastAtMs: Number(row[0]), lastValue: Number(row[1]), lastReceivedMs: Number(row[2]) });
    else state.count = Number(row[1]);
  }, { patient: true });
  book.lastReceivedMs = await newestReceipt(server, book);
  return book;
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
