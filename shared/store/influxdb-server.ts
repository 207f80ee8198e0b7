import { Agent as HttpAgent } from 'node:http';
import { Agent as HttpsAgent } from 'node:https';
import { setTimeout as sleep } from 'node:timers/promises';
import { InfluxDB, setLogger, type WriteApi } from '@influxdata/influxdb-client';
import { StoreError } from '../errors.ts';
import { influxError, retryAfterMs } from './influxdb-errors.ts';
import { quotedName } from './influxdb-schema.ts';
import { takeLines } from './take-lines.ts';

/** Where readings go: a database of InfluxDB 1.x, or a bucket of 2.x with the database that InfluxQL knows it by. */
export type InfluxTarget = { readonly url: string; readonly database: string; /** Empty: the database's own default. */ readonly retentionPolicy: string } & (
  | { readonly kind: 'database'; readonly user: string; readonly password: string }
  | { readonly kind: 'bucket'; readonly organisation: string; readonly bucket: string; readonly token: string }
);

/** One series of an answer, or a piece of it; `values` are rows of the `columns`. */
export type InfluxRows = { readonly statement: number; readonly tags: Readonly<Record<string, string>>; readonly columns: readonly string[]; readonly values: readonly (readonly unknown[])[] };

/** Takes rows; `false` ends the answer, of which no more is wanted. */
type OnRows = (rows: InfluxRows) => void | false;

export type InfluxServer = {
  /** Where it is, for messages. */
  readonly name: string;
  /** A measurement as InfluxQL is to call it. */
  from(measurement: string): string;
  /** Resolves when the server has the lines on disk. @throws {StoreError | PartialWrite} */
  write(lines: readonly string[]): Promise<void>;
  /** Ask in InfluxQL; rows are handed over as they come in. With `patient` an answer may take two minutes, as counting much does. @throws {StoreError} */
  query(statements: readonly string[], onRows: OnRows, options?: { readonly patient?: boolean }): Promise<void>;
  /** Any other request; gives the status, the headers and the body. @throws {StoreError} unless the status is below 300. */
  request(method: 'GET' | 'POST', path: string, body?: object): Promise<{ readonly headers: Readonly<Record<string, unknown>>; readonly text: string }>;
  /** What is under way fails at once. */
  close(): void;
};

/** A write that isn't answered by then is taken for failed; it is repeated, which changes nothing. */
const ANSWER_WITHIN_MS = 10_000;
const PATIENT_MS = 120_000;
const LONGEST_RETRY_AFTER_MS = 60_000;
const CHUNK_ROWS = 20_000;
const FORM = { 'content-type': 'application/x-www-form-urlencoded', accept: 'application/json' };

/**
 * The server through its official client. Batching is ours: one awaited flush at a time and no retries of the client's,
 * whose buffer is memory and whose flush doesn't wait for what it has sent off by itself.
 */
export function connectInflux(target: InfluxTarget, answerWithinMs: number = ANSWER_WITHIN_MS): InfluxServer {
  // Every failure comes back to us and is told there; the client would print its stack as well.
  setLogger({ error() {}, warn() {} });
  const name = new URL(target.url).host;
  const lanes = openLanes(() => openLane(target, answerWithinMs));
  const closing = new AbortController();
  let leftAlone: Promise<undefined> | undefined;

  return {
    name,
    from: (measurement) => (target.retentionPolicy === '' ? quotedName(measurement) : `${quotedName(target.retentionPolicy)}.${quotedName(measurement)}`),
    async write(lines) {
      await leftAlone;
      try {
        await lanes.use(async ({ writing }) => {
          writing.writeRecords([...lines]);
          await writing.flush();
        });
      } catch (error) {
        const pauseMs = retryAfterMs(error, LONGEST_RETRY_AFTER_MS);
        if (pauseMs > 0) {
          leftAlone = sleep(pauseMs, undefined, { signal: closing.signal, ref: false }).then(
            () => (leftAlone = undefined),
            () => undefined,
          );
        }
        throw influxError('Cannot keep readings', name, error);
      }
    },
    async query(statements, onRows, { patient = false } = {}) {
      const body = new URLSearchParams({ db: target.database, epoch: 'ms', chunked: 'true', chunk_size: String(CHUNK_ROWS), q: statements.join('; ') }).toString();
      const lines = takeLines((line) => takeAnswer(line, onRows));
      try {
        await lanes.use(async (lane) => {
          await send(patient ? lane.patient : lane.quick, '/query', body, { method: 'POST', headers: FORM }, (chunk) => lines.take(chunk));
          lines.end();
        });
      } catch (error) {
        if (!(error instanceof SeenEnough)) throw influxError('Cannot read readings', name, error);
      }
    },
    async request(method, path, body) {
      const chunks: Uint8Array[] = [];
      try {
        const headers = await lanes.use(({ quick }) => send(quick, path, body === undefined ? '' : JSON.stringify(body), { method, headers: { accept: 'application/json' } }, (chunk) => chunks.push(chunk)));
        return { headers, text: Buffer.concat(chunks).toString('utf8') };
      } catch (error) {
        throw influxError('Cannot ask the store', name, error);
      }
    },
    close() {
      closing.abort();
      lanes.close();
    },
  };
}

/** One connection, and the client's ways of using it. `destroy` breaks it, with whatever is under way. */
type Lane = { readonly quick: InfluxDB; readonly patient: InfluxDB; readonly writing: WriteApi; destroy(): void };

function openLane(target: InfluxTarget, answerWithinMs: number): Lane {
  const { url } = target;
  const options = { keepAlive: true, maxSockets: 1 };
  const agent = url.startsWith('https:') ? new HttpsAgent(options) : new HttpAgent(options);
  const login = target.kind === 'bucket' ? { token: target.token } : target.user === '' ? {} : { headers: { authorization: `Basic ${Buffer.from(`${target.user}:${target.password}`).toString('base64')}` } };
  const client = (timeout: number): InfluxDB => new InfluxDB({ url, timeout, transportOptions: { agent }, ...login });
  const quick = client(answerWithinMs);
  const [organisation, bucket] = target.kind === 'bucket' ? [target.organisation, target.bucket] : ['', target.database];
  const writing = quick.getWriteApi(organisation, bucket, 'ms', { batchSize: 1_000_000, flushInterval: 0, maxRetries: 0, gzipThreshold: Infinity });
  if (target.kind === 'database') writing.path = `/write?${new URLSearchParams({ db: target.database, ...(target.retentionPolicy === '' ? {} : { rp: target.retentionPolicy }), precision: 'ms' }).toString()}`;
  return { quick, patient: client(PATIENT_MS), writing, destroy: () => agent.destroy() };
}

/**
 * A request at a time on each connection, as many connections as there are requests at once. One whose request failed is
 * broken off: the client leaves a request that timed out open for as long as the server is frozen, with all that it holds.
 */
function openLanes(openOne: () => Lane): { use<T>(work: (lane: Lane) => Promise<T>): Promise<T>; close(): void } {
  const idle: Lane[] = [];
  const busy = new Set<Lane>();
  let closed = false;
  return {
    async use(work) {
      if (closed) throw new StoreError('The reading store is closed');
      const lane = idle.pop() ?? openOne();
      busy.add(lane);
      try {
        const result = await work(lane);
        if (!closed) idle.push(lane);
        return result;
      } catch (error) {
        lane.destroy();
        throw error;
      } finally {
        busy.delete(lane);
      }
    },
    close() {
      closed = true;
      for (const lane of [...idle, ...busy]) lane.destroy();
    },
  };
}

/** Whoever asked wants no more of the answer. */
class SeenEnough extends Error {}

type Sent = { readonly method: string; readonly headers: Record<string, string> };

/** One request; its answer piece by piece. Gives the headers. */
function send(client: InfluxDB, path: string, body: string, how: Sent, onChunk: (chunk: Uint8Array) => void): Promise<Readonly<Record<string, unknown>>> {
  return new Promise((resolve, reject) => {
    let headers: Readonly<Record<string, unknown>> = {};
    let failed = false;
    const fail = (error: unknown): void => {
      failed = true;
      reject(error instanceof Error ? error : new Error(String(error)));
    };
    client.transport.send(path, body, how, {
      responseStarted(given) {
        headers = given;
      },
      next(chunk) {
        if (failed) return;
        try {
          onChunk(chunk);
        } catch (error) {
          fail(error);
        }
      },
      error: fail,
      complete: () => resolve(headers),
    });
  });
}

type Answer = { readonly error?: string; readonly results?: readonly { readonly statement_id: number; readonly error?: string; readonly series?: readonly { readonly tags?: Record<string, string>; readonly columns: readonly string[]; readonly values?: readonly (readonly unknown[])[] }[] }[] };

/** One document of an answer. Most errors of InfluxQL come inside one, with HTTP 200. */
function takeAnswer(line: string, onRows: OnRows): void {
  const answer = JSON.parse(line) as Answer;
  if (answer.error !== undefined) throw new StoreError(`InfluxDB refuses a question: ${answer.error}`);
  for (const result of answer.results ?? []) {
    if (result.error !== undefined) throw new StoreError(`InfluxDB refuses a question: ${result.error}`);
    for (const one of result.series ?? []) if (onRows({ statement: result.statement_id, tags: one.tags ?? {}, columns: one.columns, values: one.values ?? [] }) === false) throw new SeenEnough();
  }
}
