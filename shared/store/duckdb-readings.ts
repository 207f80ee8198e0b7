import type { DuckDBConnection } from '@duckdb/node-api';
import { StoreError } from '../errors.ts';
import type { Log } from '../log.ts';
import { type ReadingBatch, selectRows } from '../reading-batch.ts';
import { checkBucketSpan } from './bucket-span.ts';
import { checkBatch } from './check-batch.ts';
import { lookUpValues, noteAppended, writeRows } from './duckdb-append.ts';
import { readLog } from './duckdb-log.ts';
import { copySorted, dropLeftoversSql, expireMonth, monthsToSort, swapSorted } from './duckdb-months.ts';
import { bucketsOf, byDeviceTimeSqls, wholeBatch } from './duckdb-queries.ts';
import { type DuckdbBook, readSeriesBook } from './duckdb-series.ts';
import { type DuckdbReader, type DuckdbSession, type DuckdbSettings, isDurableAllTheSame, openSession, storeError, transaction } from './duckdb-session.ts';
import { oneAtATime } from './one-at-a-time.ts';
import { planAppend } from './plan-append.ts';
import type { AppendResult, ReadingStore } from './reading-store.ts';
import { seriesName } from './series-book.ts';
import { monthFromName, nextMonthStartMs } from './utc-month.ts';

/** The embedded store has housekeeping of its own. */
export type DuckdbReadingStore = ReadingStore & {
  /** Sort closed months by copy. To be called at a quiet moment, such as once a night; appends go on meanwhile. Gives the months it sorted. */
  tidy(nowMs: number): Promise<readonly string[]>;
};

/** `session` is undefined after a failure that left the engine unusable: the next call opens the file anew. */
type State = { session: DuckdbSession | undefined; book: DuckdbBook | undefined; closed: boolean };

/**
 * Readings in one DuckDB file in `folder`: a plain table for each UTC month of device time, without keys,
 * as a key costs four times the time and nine times the space. A dictionary of series, and the newest reading
 * of each, are held in memory. One process opens the file.
 *
 * @throws {StoreError} if the file is open elsewhere, can't be read, or was written by a newer Lull.
 * @see shared/store/README.md for what was measured.
 */
export async function openDuckdbReadings(settings: DuckdbSettings & { readonly log: Log }): Promise<DuckdbReadingStore> {
  const state: State = { session: undefined, book: undefined, closed: false };
  const inTurn = oneAtATime();
  await ready(state, settings);

  /** Work that changes the file: in turn, and with the book read anew after any failure. */
  const change = <T>(what: string, work: (session: DuckdbSession, book: DuckdbBook) => Promise<T>): Promise<T> =>
    inTurn(async () => {
      try {
        const { session, book } = await ready(state, settings);
        return await work(session, book);
      } catch (error) {
        throw await afterFailure(state, settings.log, what, error);
      }
    });

  /** Work that only looks: at once, on a connection of its own, so that a page never waits for an import. */
  const look = async <T>(what: string, work: (connection: DuckDBConnection, book: DuckdbBook) => Promise<T>): Promise<T> => {
    const { session, book } = await inReach(state, settings, inTurn);
    let reader: DuckdbReader | undefined;
    try {
      reader = await session.reader();
      return await reader.during((connection) => twice(() => work(connection, state.book ?? book)));
    } catch (error) {
      throw storeError(what, error);
    } finally {
      reader?.close();
    }
  };

  return {
    append(batch) {
      return change('Cannot keep readings', (session, book) => append(session, book, batch, (error) => afterFailure(state, settings.log, 'Cannot tidy the log of readings', error)));
    },
    byDeviceTime(query) {
      return look('Cannot read readings', async (connection, book) => {
        const wanted = book.byId.filter((one) => one.series.generator === query.generator && (query.channels === undefined || query.channels.includes(one.series.channel)));
        return wholeBatch(connection, byDeviceTimeSqls(book, wanted, query.fromMs, query.toMs, query.receivedBeforeMs), book);
      });
    },
    async *byReceipt(query) {
      const { session, book } = await inReach(state, settings, inTurn);
      const wanted = query.generators === undefined ? undefined : book.byId.filter((one) => query.generators!.includes(one.series.generator));
      let reader: DuckdbReader | undefined;
      try {
        reader = await session.reader();
        yield* readLog(reader, () => state.book ?? book, wanted, query);
      } catch (error) {
        throw storeError('Cannot read the log of readings', error);
      } finally {
        reader?.close();
      }
    },
    async buckets(query) {
      checkBucketSpan(query);
      return look('Cannot read readings', async (connection, book) => {
        const one = book.byName.get(seriesName(query));
        return one === undefined ? [] : bucketsOf(connection, book, one, query);
      });
    },
    async latest(generators) {
      const { book } = await inReach(state, settings, inTurn);
      const wanted = generators === undefined ? undefined : new Set(generators);
      return book.byId.filter((one) => one.count > 0 && (wanted === undefined || wanted.has(one.series.generator))).map((one) => ({ ...one.series, atMs: one.lastAtMs, value: one.lastValue, receivedMs: one.lastReceivedMs }));
    },
    async series() {
      const { book } = await inReach(state, settings, inTurn);
      return book.byId.filter((one) => one.count > 0).map((one) => ({ ...one.series, firstAtMs: one.firstAtMs, lastAtMs: one.lastAtMs, count: one.count }));
    },
    lastReceivedMs: async () => (await inReach(state, settings, inTurn)).book.lastReceivedMs,
    expire(beforeMs) {
      return change('Cannot expire readings', async (session, book) => {
        const expired = [...book.months].filter((month) => nextMonthStartMs(monthFromName(month)) <= beforeMs);
        for (const month of expired) await expireMonth(session.writer, month);
        if (expired.length === 0) return;
        const { lastReceivedMs } = book;
        state.book = await readSeriesBook(session.writer);
        state.book.lastReceivedMs = Math.max(lastReceivedMs, state.book.lastReceivedMs);
        settings.log.info(`Dropped the readings of ${expired.join(', ')}; hourly roll-ups are kept`);
      });
    },
    async tidy(nowMs) {
      const months = await change('Cannot tidy readings', async (session, book) => {
        await session.writer.run(dropLeftoversSql(book.months) || 'SELECT 1');
        return monthsToSort(session.writer, book.months, nowMs);
      });
      for (const month of months) {
        const end = await look('Cannot sort readings', (connection) => copySorted(connection, month));
        await change('Cannot sort readings', (session) => swapSorted(session.writer, month, end));
      }
      return months;
    },
    sizeBytes: async () => (await inReach(state, settings, inTurn)).session.sizeBytes(),
    close() {
      return inTurn(async () => {
        state.closed = true;
        const { session } = state;
        state.session = undefined;
        await session?.close();
      });
    },
  };
}

async function append(session: DuckdbSession, book: DuckdbBook, batch: ReadingBatch, reopenAfter: (error: unknown) => Promise<unknown>): Promise<AppendResult> {
  checkBatch(batch);
  const plan = await planAppend(book, batch, (of, states, rows) => lookUpValues(session.writer, book, of, states, rows));
  if (plan.rows.length > 0) {
    let months: string[] = [];
    await transaction(session.writer, async () => {
      months = await writeRows(session.writer, book, batch, plan);
    }).catch(async (error: unknown) => {
      if (!isDurableAllTheSame(error)) throw error;
      await reopenAfter(error);
    });
    noteAppended(book, batch, plan, months);
  }
  return { kept: plan.rows.length === batch.atMs.length ? batch : selectRows(batch, plan.rows), doubled: plan.doubled, conflicts: plan.conflicts };
}

/** The open session and what is known of the file; opened and read anew if a failure left either in doubt. */
async function ready(state: State, settings: DuckdbSettings): Promise<{ session: DuckdbSession; book: DuckdbBook }> {
  if (state.closed) throw new StoreError('The reading store is closed');
  state.session ??= await openSession(settings);
  state.book ??= await readSeriesBook(state.session.writer);
  return { session: state.session, book: state.book };
}

/** For readers: what is there now, without waiting in turn unless it has to be opened anew. */
async function inReach(state: State, settings: DuckdbSettings, inTurn: ReturnType<typeof oneAtATime>): Promise<{ session: DuckdbSession; book: DuckdbBook }> {
  if (state.closed) throw new StoreError('The reading store is closed');
  if (state.session !== undefined && state.book !== undefined) return { session: state.session, book: state.book };
  return inTurn(() => ready(state, settings).catch((error: unknown) => Promise.reject(storeError('Cannot read readings', error))));
}

/**
 * A failed commit may still be in the file, so what we believed of it is forgotten and read anew at the next call:
 * a repeat of the batch then completes it and doubles nothing. The engine refuses all work after some failures (a full disk);
 * then the file is closed, and opened again by the next call.
 */
async function afterFailure(state: State, log: Log, what: string, error: unknown): Promise<Error> {
  const wrapped = storeError(what, error);
  if (wrapped instanceof RangeError || state.closed) return wrapped;
  state.book = undefined;
  if (error instanceof Error && /FATAL|invalidated/.test(error.message)) {
    log.error('The reading store failed and will be opened again', { error: error.message });
    const { session } = state;
    state.session = undefined;
    await session?.close().catch((closing: unknown) => log.warn('The reading store could not be closed cleanly', { error: String(closing) }));
  }
  return wrapped;
}

/** A month may be swapped or dropped between naming its table and reading it; the second look sees the new state. */
async function twice<T>(work: () => Promise<T>): Promise<T> {
  try {
    return await work();
  } catch (error) {
    if (error instanceof Error && error.message.startsWith('Catalog Error')) return work();
    throw error;
  }
}
