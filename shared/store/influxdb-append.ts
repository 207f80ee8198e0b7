import type { GeneratorKey } from '../ids.ts';
import type { ReadingBatch } from '../reading-batch.ts';
import { DAY_MS, HOUR_MS } from '../time.ts';
import { PartialWrite } from './influxdb-errors.ts';
import { dayNumber, isChannel, isGenerator, linePrefix, READING, readingLine, receiptLine, slotOf, timeBetween } from './influxdb-schema.ts';
import { seriesOfTags } from './influxdb-series.ts';
import type { InfluxServer } from './influxdb-server.ts';
import { seriesName, type SeriesState } from './series-book.ts';

/** Lines in one request: half a megabyte, so that a proxy with the usual limit of one lets it through. */
const LINES_PER_WRITE = 5000;
/** Rows further apart are looked up by questions of their own instead of reading all that lies between. */
const LOOK_UP_GAP_MS = 6 * HOUR_MS;
const QUESTIONS_PER_REQUEST = 200;

/** The values that the server has under the keys of these rows, by row. */
export async function lookUpInflux(server: InfluxServer, batch: ReadingBatch, states: readonly SeriesState[], rows: readonly number[]): Promise<Map<number, number>> {
  const wanted = new Map<string, number[]>();
  const keyOf = (name: string, atMs: number): string => `${name} ${atMs}`;
  const byGenerator = new Map<GeneratorKey, number[]>();
  for (const row of rows) {
    const { series } = states[batch.seriesIndex[row]!]!;
    push(wanted, keyOf(seriesName(series), batch.atMs[row]!), row);
    push(byGenerator, series.generator, row);
  }
  const questions = [...byGenerator].flatMap(([generator, list]) => {
    const channels = [...new Set(list.map((row) => states[batch.seriesIndex[row]!]!.series.channel))];
    const who = `${isGenerator([generator])} AND ${isChannel(channels)}`;
    return spansOf(list.map((row) => batch.atMs[row]!), LOOK_UP_GAP_MS).map(([fromMs, toMs]) => `SELECT value FROM ${server.from(READING)} WHERE ${who} AND ${timeBetween(fromMs, toMs + 1)} GROUP BY generator, channel`);
  });
  const found = new Map<number, number>();
  for (let start = 0; start < questions.length; start += QUESTIONS_PER_REQUEST) {
    await server.query(questions.slice(start, start + QUESTIONS_PER_REQUEST), ({ tags, values }) => {
      const series = seriesOfTags(tags);
      if (series === undefined) return;
      for (const [atMs, value] of values as readonly (readonly number[])[]) for (const row of wanted.get(keyOf(seriesName(series), atMs!)) ?? []) found.set(row, value!);
    });
  }
  return found;
}

/** Times as spans, parted where a gap is wide. */
export function spansOf(times: readonly number[], gapMs: number): (readonly [number, number])[] {
  const sorted = Float64Array.from(times).sort();
  const spans: [number, number][] = [];
  for (const atMs of sorted) {
    const last = spans.at(-1);
    if (last !== undefined && atMs - last[1] <= gapMs) last[1] = atMs;
    else spans.push([atMs, atMs]);
  }
  return spans;
}

/** A row that the server refuses for good, in its own words. */
export type RefusedRows = { readonly rows: readonly number[]; readonly words: string };

/**
 * Write rows of a batch, one awaited request after the other. Where the server kept only a part and refuses the rest,
 * it doesn't say which; so it is asked what it has.
 * @throws {StoreError} if it isn't known what of them is there.
 */
export async function writeInflux(server: InfluxServer, batch: ReadingBatch, states: readonly SeriesState[], rows: ArrayLike<number>): Promise<readonly RefusedRows[]> {
  const prefixes = states.map((state) => linePrefix(state.series));
  const refused: RefusedRows[] = [];
  for (let start = 0; start < rows.length; start += LINES_PER_WRITE) {
    const piece = Array.from({ length: Math.min(LINES_PER_WRITE, rows.length - start) }, (_, index) => rows[start + index]!);
    try {
      await server.write(piece.map((row) => readingLine(prefixes[batch.seriesIndex[row]!]!, batch.atMs[row]!, batch.value[row]!, batch.quality[row]!, batch.receivedMs[row]!)));
    } catch (error) {
      if (!(error instanceof PartialWrite)) throw error;
      const there = await lookUpInflux(server, batch, states, piece);
      refused.push({ rows: piece.filter((row) => !there.has(row)), words: error.words });
    }
  }
  return refused;
}

/** Which marks of receipt are known to be there: only those of the newest hour of each generator, as receipt doesn't fall. */
export type ReceiptMarks = Map<GeneratorKey, { slotMs: number; readonly days: Set<number> }>;

/** Say in which hour of receipt which days came in, before their readings are written: a mark without readings misleads nobody. */
export async function markReceipts(server: InfluxServer, marks: ReceiptMarks, batch: ReadingBatch, states: readonly SeriesState[], rows: ArrayLike<number>): Promise<void> {
  const wanted = new Map<string, { readonly generator: GeneratorKey; readonly slotMs: number; readonly day: number }>();
  for (let index = 0; index < rows.length; index += 1) {
    const row = rows[index]!;
    const { generator } = states[batch.seriesIndex[row]!]!.series;
    const [slotMs, day] = [slotOf(batch.receivedMs[row]!), dayNumber(batch.atMs[row]!)];
    const known = marks.get(generator);
    if (known?.slotMs === slotMs && known.days.has(day)) continue;
    wanted.set(`${generator} ${slotMs} ${day}`, { generator, slotMs, day });
  }
  const list = [...wanted.values()];
  for (let start = 0; start < list.length; start += LINES_PER_WRITE) {
    const piece = list.slice(start, start + LINES_PER_WRITE);
    // A mark beyond the retention is refused, and so are its readings then.
    await server.write(piece.map((one) => receiptLine(one.generator, one.slotMs, one.day))).catch((error: unknown) => (error instanceof PartialWrite ? undefined : Promise.reject(error)));
    for (const { generator, slotMs, day } of piece) {
      const known = marks.get(generator);
      if (known?.slotMs === slotMs) known.days.add(day);
      else if (known === undefined || known.slotMs < slotMs) marks.set(generator, { slotMs, days: new Set([day]) });
    }
  }
}

/** Days as spans of device time, neighbours joined. */
export function spansOfDays(days: Iterable<number>): (readonly [fromMs: number, toMs: number])[] {
  return spansOf([...days], 1).map(([first, last]) => [first * DAY_MS, (last + 1) * DAY_MS] as const);
}

function push<K>(map: Map<K, number[]>, key: K, row: number): void {
  const list = map.get(key);
  if (list === undefined) map.set(key, [row]);
  else list.push(row);
}
