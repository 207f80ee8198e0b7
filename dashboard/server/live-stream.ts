import type { Request, Response } from 'express';
import type { LiveReading, Status } from '../../shared/api.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { type ReadingBatch, readingAt } from '../../shared/reading-batch.ts';
import { isoFromMs } from '../../shared/time.ts';
import { HttpProblem } from './problem.ts';

const MOST_CONNECTIONS = 500;
/** A reader that has this much unread is dropped; its browser comes back by itself. */
const MOST_UNREAD_BYTES = 1_000_000;
const STATUS_EVERY_MS = 2000;

type Reader = { readonly response: Response; readonly generator: GeneratorKey | null };

/**
 * Server-sent events: every 2 s the status (which is the heartbeat too), each tick, and the readings of one generator.
 * An event is serialised once and the same bytes are written to all.
 * @see the HTML standard, section 9.2
 */
export type LiveStream = ReturnType<typeof createLiveStream>;

export function createLiveStream(status: () => Status | Promise<Status>) {
  const readers = new Set<Reader>();

  function write(bytes: Buffer, to: Iterable<Reader>): void {
    for (const reader of to) {
      if (reader.response.writableLength > MOST_UNREAD_BYTES) drop(reader);
      else reader.response.write(bytes);
    }
  }

  function drop(reader: Reader): void {
    readers.delete(reader);
    reader.response.destroy();
  }

  async function sendStatus(to: Iterable<Reader>): Promise<void> {
    let bytes: Buffer;
    try {
      bytes = eventOf('status', await status());
    } catch {
      // The connection stays; readers see by the missing status that something is wrong, and /status says what.
      bytes = Buffer.from(': heartbeat\n\n');
    }
    write(bytes, to);
  }

  const timer = setInterval(() => {
    if (readers.size > 0) void sendStatus(readers);
  }, STATUS_EVERY_MS);
  timer.unref();

  return {
    /** @throws {HttpProblem} 503 when too many listen. */
    refuseIfFull(): void {
      if (readers.size >= MOST_CONNECTIONS) throw new HttpProblem(503, `${MOST_CONNECTIONS} pages listen already, no more are taken. Close some, or ask again later; everything but live updates works.`, { 'retry-after': '30' });
    },
    open(response: Response, request: Request, generator: GeneratorKey | null): void {
      response.status(200).set({ 'content-type': 'text/event-stream; charset=utf-8', 'cache-control': 'no-store', 'x-accel-buffering': 'no' });
      if (request.method === 'HEAD') {
        response.end();
        return;
      }
      response.flushHeaders();
      response.write('retry: 3000\n\n');
      const reader: Reader = { response, generator };
      readers.add(reader);
      response.on('close', () => readers.delete(reader));
      response.on('error', () => readers.delete(reader));
      void sendStatus([reader]);
    },
    tick(at: string | null): void {
      write(eventOf('tick', { at }), readers);
    },
    /** Readings as they are committed, to those that look at their generator. */
    committed(batch: ReadingBatch): void {
      const wanted = new Set([...readers].map((reader) => reader.generator));
      wanted.delete(null);
      if (wanted.size === 0) return;
      const readings = new Map<GeneratorKey, LiveReading[]>();
      for (let row = 0; row < batch.atMs.length; row += 1) {
        const key = batch.series[batch.seriesIndex[row]!]!.generator;
        if (!wanted.has(key)) continue;
        const { channel, atMs, value } = readingAt(batch, row);
        const list = readings.get(key) ?? [];
        list.push({ channel, at: isoFromMs(atMs), value });
        readings.set(key, list);
      }
      for (const [key, list] of readings) write(eventOf('reading', list), [...readers].filter((reader) => reader.generator === key));
    },
    /** End every connection. */
    stop(): void {
      clearInterval(timer);
      for (const reader of readers) reader.response.end();
      readers.clear();
    },
  };
}

function eventOf(name: string, data: unknown): Buffer {
  return Buffer.from(`event: ${name}\ndata: ${JSON.stringify(data)}\n\n`);
}
