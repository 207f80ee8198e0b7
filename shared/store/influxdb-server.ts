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

export type InfluxServer = {
  /** Where it is, for messages. */
  readonly name: string;
  /** A measurement as InfluxQL is to call it. */
  from(measurement: string): string;
  /** Resolves when the server has the lines on disk. @throws {StoreError | PartialWrite} */
  write(lines: readonly string[]): Promise<void>;
  /** Ask in InfluxQL; rows are handed over as they come in. With `patient` an answer may take a minute, as counting much does. @throws {StoreError} */
  query(statements: readonly string[], onRows: (rows: InfluxRows) => void, options?: { readonly patient?: boolean; readonly signal?: AbortSignal }): Promise<void>;
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
  const { url } = target;
  const server = new URL(url).host;
  const newAgent = (): HttpAgent => (url.startsWith('https:') ? new HttpsAgent({ keepAlive: true }) : new HttpAgent({ keepAlive: true }));
  const agent = newAgent();
  const headers = target.kind === 'database' && target.user !== '' ? { authorization: `Basic ${Buffer.from(`${target.user}:${target.password}`).toString('base64')}` } : undefined;
  const client = (timeout: number, transportAgent: HttpAgent): InfluxDB => new InfluxDB({ url, timeout, transportOptions: { agent: transportAgent }, ...(target.kind === 'bucket' ? { token: target.token } : {}), ...(headers === undefined ? {} : { headers }) });
  const quick = client(answerWithinMs, agent);
  const patient = client(PATIENT_MS, agent);
  let writing: { readonly api: WriteApi; readonly agent: HttpAgent } | undefined;
  let leftAlone: Promise<undefined> | undefined;
  const closing = new AbortController();

  const openWriting = (): { readonly api: WriteApi; readonly agent: HttpAgent } => {
    const own = newAgent();
    const [org, bucket] = target.kind === 'bucket' ? [target.organisation, target.bucket] : ['', target.database];
    const api = client(answerWithinMs, own).getWriteApi(org, bucket, 'ms', { batchSize: 1_000_000, flushInterval: 0, maxRetries: 0, gzipThreshold: Infinity });
    if (target.kind === 'database') api.path = `/write?${new URLSearchParams({ db: target.database, ...(target.retentionPolicy === '' ? {} : { rp: target.retentionPolicy }), precision: 'ms' }).toString()}`;
    return { api, agent: own };
  };
  const refuseClosed = (): void => {
    if (closing.signal.aborted) throw new StoreError('The reading store is closed');
  };

  return {
    name: server,
    from: (measurement) => (target.retentionPolicy === '' ? quotedName(measurement) : `${quotedName(target.retentionPolicy)}.${quotedName(measurement)}`),
    async write(lines) {
      await leftAlone;
      refuseClosed();
      writing ??= openWriting();
      const { api, agent: own } = writing;
      try {
        api.writeRecords([...lines]);
        await api.flush();
      } catch (error) {
        // A request that timed out would else stay open for as long as the server is frozen, with all that it holds.
        own.destroy();
        writing = undefined;
        const pauseMs = retryAfterMs(error, LONGEST_RETRY_AFTER_MS);
        if (pauseMs > 0) {
          leftAlone = sleep(pauseMs, undefined, { signal: closing.signal, ref: false }).then(
            () => (leftAlone = undefined),
            () => undefined,
          );
        }
        throw influxError('Cannot keep readings', server, error);
      }
    },
    async query(statements, onRows, options = {}) {
      refuseClosed();
      const body = new URLSearchParams({ db: target.database, epoch: 'ms', chunked: 'true', chunk_size: String(CHUNK_ROWS), q: statements.join('; ') }).toString();
      const lines = takeLines((line) => takeAnswer(line, onRows));
      await send(options.patient === true ? patient : quick, '/query', body, { method: 'POST', headers: FORM }, (chunk) => lines.take(chunk), options.signal).catch((error: unknown) => {
        throw influxError('Cannot read readings', server, error);
      });
      lines.end();
    },
    async request(method, path, body) {
      refuseClosed();
      const chunks: Uint8Array[] = [];
      const headersOf = await send(quick, path, body === undefined ? '' : JSON.stringify(body), { method, headers: { accept: 'application/json' } }, (chunk) => chunks.push(chunk)).catch((error: unknown) => {
        throw influxError('Cannot ask the store', server, error);
      });
      return { headers: headersOf, text: Buffer.concat(chunks).toString('utf8') };
    },
    close() {
      closing.abort();
      agent.destroy();
      writing?.agent.destroy();
    },
  };
}

type Sent = { readonly method: string; readonly headers: Record<string, string> };

/** One request; its answer piece by piece. After a failure of whatever kind nothing of it stays open. Gives the headers. */
function send(client: InfluxDB, path: string, body: string, how: Sent, onChunk: (chunk: Uint8Array) => void, signal?: AbortSignal): Promise<Readonly<Record<string, unknown>>> {
  const ending = new AbortController();
  const all = signal === undefined ? ending.signal : AbortSignal.any([ending.signal, signal]);
  return new Promise((resolve, reject) => {
    let headers: Readonly<Record<string, unknown>> = {};
    const fail = (error: unknown): void => {
      reject(error instanceof Error ? error : new Error(String(error)));
      ending.abort();
    };
    client.transport.send(path, body, { ...how, signal: all }, {
      responseStarted(given) {
        headers = given;
      },
      next(chunk) {
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
function takeAnswer(line: string, onRows: (rows: InfluxRows) => void): void {
  const answer = JSON.parse(line) as Answer;
  if (answer.error !== undefined) throw new StoreError(`InfluxDB refuses a question: ${answer.error}`);
  for (const result of answer.results ?? []) {
    if (result.error !== undefined) throw new StoreError(`InfluxDB refuses a question: ${result.error}`);
    for (const one of result.series ?? []) onRows({ statement: result.statement_id, tags: one.tags ?? {}, columns: one.columns, values: one.values ?? [] });
  }
}
