import { setTimeout as sleep } from 'node:timers/promises';
import { StoreError } from '../errors.ts';
import type { Log } from '../log.ts';
import { type ReadingBatch, selectRows } from '../reading-batch.ts';
import { DAY_MS } from '../time.ts';
import { checkBucketSpan } from './bucket-span.ts';
import { checkBatch } from './check-batch.ts';
import { lookUpInflux, markReceipts, type ReceiptMarks, type RefusedRows, writeInflux } from './influxdb-append.ts';
import { readInfluxLog } from './influxdb-log.ts';
import { readBuckets, readByDeviceTime } from './influxdb-queries.ts';
import { forgetAll, forgetBefore } from './influxdb-retention.ts';
import { rolledUpTo, rollUp, withRollups } from './influxdb-rollups.ts';
import { countReadings, readInfluxBook } from './influxdb-series.ts';
import { connectInflux, type InfluxServer, type InfluxTarget } from './influxdb-server.ts';
import { setUpInflux } from './influxdb-setup.ts';
import { BYTES_PER_READING, diskBytes } from './influxdb-size.ts';
import { oneAtATime } from './one-at-a-time.ts';
import { planAppend } from './plan-append.ts';
import type { AppendResult, ReadingStore } from './reading-store.ts';
import { noteRows, type SeriesBook, seriesName, type SeriesState } from './series-book.ts';
import { monthStartMs } from './utc-month.ts';

/** What is its own: it may stand on a server with other things in it, so it can be emptied of ours. */
export type InfluxReadingStore = ReadingStore & { empty(): Promise<void> };

export type InfluxReadingsSettings = {
  readonly target: InfluxTarget;
  /** How long readings are to be kept; the server must not drop them earlier. */
  readonly keepDays: number;
  readonly log: Log;
  /** How long the server may take to answer a write before it is taken for failed. */
  readonly answerWithinMs?: number;
};

/** Rows whose write failed: some of them may be there. */
type Doubt = { readonly batch: ReadingBatch; readonly states: readonly SeriesState[]; readonly rows: Uint32Array };
/** `counted`: the book's counts are those of the server; before that they are what was added since. */
type State = { book: SeriesBook; counted: boolean; doubt: Doubt | undefined; marks: ReceiptMarks; rolledUpToMs: number; closed: boolean; sizeBytes: number };

/** The size is asked of the server, but no page waits longer for it. */
const SIZE_WITHIN_MS = 500;

/**
 * Readings in InfluxDB, 1.x or 2.x. The newest reading of each series is held in memory, so that the first value of a key
 * wins without a look for what is newer; InfluxDB itself lets the last one win. One process writes.
 *
 * @throws {InfluxSetupError} if the server is reached and isn't as configured.
 * @throws {StoreError} if it can't be reached.
 * @see shared/store/influxdb-schema.ts for how readings lie there.
 */
export async function openInfluxReadings(settings: InfluxReadingsSettings): Promise<InfluxReadingStore> {
  const server = connectInflux(settings.target, settings.answerWithinMs);
  let state: State;
  try {
    await setUpInflux(server, settings.target, settings.keepDays);
    state = { book: await readInfluxBook(server), counted: false, doubt: undefined, marks: new Map(), rolledUpToMs: await rolledUpTo(server), closed: false, sizeBytes: await diskBytes(server, settings.target) };
  } catch (error) {
    server.close();
    throw error;
  }
  const inTurn = oneAtATime();
  const open = (): State => {
    if (state.closed) throw new StoreError('The reading store is closed');
    return state;
  };
  const bookAnew = async (): Promise<void> => {
    const { lastReceivedMs } = state.book;
    state.book = await readInfluxBook(server);
    state.book.lastReceivedMs = Math.max(state.book.lastReceivedMs, lastReceivedMs);
    state.counted = false;
    state.doubt = undefined;
  };

  return {
    append: (batch) => inTurn(() => append(server, open(), batch)),
    async byDeviceTime(query) {
      open();
      return readByDeviceTime(server, query);
    },
    async *byReceipt(query) {
      open();
      yield* readInfluxLog(server, query);
    },
    async buckets(query) {
      checkBucketSpan(query);
      open();
      const raw = await readBuckets(server, query, query);
      return query.fromMs < state.rolledUpToMs ? withRollups(server, query, query, raw) : raw;
    },
    async latest(generators) {
      const wanted = generators === undefined ? undefined : new Set(generators);
      return held(open().book, wanted).map((one) => ({ ...one.series, atMs: one.lastAtMs, value: one.lastValue, receivedMs: one.lastReceivedMs }));
    },
    async series() {
      if (!open().counted) {
        await inTurn(async () => {
          await settleDoubt(server, open());
          await countReadings(server, state.book);
          state.counted = true;
        });
      }
      return held(open().book).map((one) => ({ ...one.series, firstAtMs: one.firstAtMs, lastAtMs: one.lastAtMs, count: one.count }));
    },
    lastReceivedMs: async () => open().book.lastReceivedMs,
    async expire(beforeMs) {
      const edgeMs = monthStartMs(beforeMs);
      const old = open().book.byId.filter((one) => one.firstAtMs < edgeMs);
      if (old.length === 0) return;
      // Not in turn, as it may take minutes: readings that old are not appended meanwhile but by an import.
      for (const generator of new Set(old.map((one) => one.series.generator))) {
        const fromMs = Math.min(...old.filter((one) => one.series.generator === generator).map((one) => one.firstAtMs));
        await rollUp(server, generator, fromMs, edgeMs);
      }
      await inTurn(async () => {
        open();
        // Devices' clocks are at most some minutes ahead, so what was received a day before the edge was measured before it.
        await forgetBefore(server, settings.target, edgeMs, edgeMs - DAY_MS);
        await bookAnew();
        state.rolledUpToMs = await rolledUpTo(server);
        settings.log.info(`Dropped the readings before ${new Date(edgeMs).toISOString().slice(0, 10)}; hourly roll-ups are kept`);
      });
    },
    async sizeBytes() {
      const now = open();
      const asked = diskBytes(server, settings.target).then((bytes) => void (now.sizeBytes = bytes), () => undefined);
      await Promise.race([asked, sleep(SIZE_WITHIN_MS, undefined, { ref: false })]);
      return now.sizeBytes > 0 ? now.sizeBytes : now.book.byId.reduce((sum, one) => sum + one.count, 0) * BYTES_PER_READING;
    },
    empty: () =>
      inTurn(async () => {
        open();
        await forgetAll(server, settings.target);
        Object.assign(state, { book: { byId: [], byName: new Map(), lastReceivedMs: 0 }, counted: true, doubt: undefined, marks: new Map(), rolledUpToMs: 0 });
      }),
    async close() {
      state.closed = true;
      server.close();
      await inTurn(async () => undefined);
    },
  };
}

/** Series that have readings, in order of their names: the server gives them back in another order than they came in. */
function held(book: SeriesBook, generators?: ReadonlySet<string>): SeriesState[] {
  const list = book.byId.filter((one) => one.lastAtMs > -Infinity && (generators === undefined || generators.has(one.series.generator)));
  return list.sort((a, b) => (seriesName(a.series) < seriesName(b.series) ? -1 : 1));
}

/** Resolves when the server has answered that the rows are there. After a failure the rows are in doubt, and looked for before anything else is kept. */
async function append(server: InfluxServer, state: State, batch: ReadingBatch): Promise<AppendResult> {
  checkBatch(batch);
  await settleDoubt(server, state);
  const { book } = state;
  const plan = await planAppend(book, batch, (of, states, rows) => lookUpInflux(server, of, states, rows));
  let refused: readonly RefusedRows[] = [];
  let { rows } = plan;
  if (rows.length > 0) {
    state.doubt = { batch, states: plan.states, rows };
    await markReceipts(server, state.marks, batch, plan.states, rows);
    refused = await writeInflux(server, batch, plan.states, rows);
    state.doubt = undefined;
    const without = new Set(refused.flatMap((one) => one.rows));
    if (without.size > 0) rows = rows.filter((row) => !without.has(row));
    noteRows(book, batch, plan.states, rows);
  }
  const result = { kept: rows.length === batch.atMs.length ? batch : selectRows(batch, rows), doubled: plan.doubled, conflicts: plan.conflicts };
  if (refused.length === 0) return result;
  return { ...result, refused: refused.flatMap(({ rows: list, words }) => list.map((row) => ({ series: plan.states[batch.seriesIndex[row]!]!.series, atMs: batch.atMs[row]!, value: batch.value[row]!, receivedMs: batch.receivedMs[row]!, says: words }))) };
}

async function settleDoubt(server: InfluxServer, state: State): Promise<void> {
  if (state.doubt === undefined) return;
  const { batch, states, rows } = state.doubt;
  const there = await lookUpInflux(server, batch, states, [...rows]);
  state.doubt = undefined;
  if (there.size > 0) noteRows(state.book, batch, states, [...there.keys()].sort((a, b) => a - b));
}
