// Issue: "The main job, end to end": the pages move by server-sent events. Real server, real sockets.
import { connect, type Socket } from 'node:net';
import { afterEach, beforeEach, expect, test } from 'vitest';
import type { Channel } from '../../../shared/channels.ts';
import { type Reading, readingBatch } from '../../../shared/reading-batch.ts';
import { type InventedServer, iso, keyAt, NOW_MS, startInvented } from './invented-fleet.ts';

let world: InventedServer;
beforeEach(async () => {
  world = await startInvented();
});
afterEach(() => world.stop());

type Event = { readonly name: string; readonly data: unknown };

/** Listens and keeps every event; `until` resolves with the first that fits. */
async function listen(path: string) {
  const cut = new AbortController();
  const response = await fetch(world.base + path, { signal: cut.signal });
  expect([response.status, response.headers.get('content-type'), response.headers.get('cache-control')]).toEqual([200, 'text/event-stream; charset=utf-8', 'no-store']);
  const events: Event[] = [];
  const reader = response.body!.pipeThrough(new TextDecoderStream()).getReader();
  const done = (async () => {
    let text = '';
    for (;;) {
      const part = await reader.read();
      if (part.done) return;
      text += part.value;
      for (let end = text.indexOf('\n\n'); end >= 0; end = text.indexOf('\n\n')) {
        const lines = text.slice(0, end).split('\n');
        text = text.slice(end + 2);
        const data = lines.find((line) => line.startsWith('data: '))?.slice(6);
        if (data !== undefined) events.push({ name: lines.find((line) => line.startsWith('event: '))?.slice(7) ?? '', data: JSON.parse(data) });
      }
    }
  })().catch(() => undefined);
  return { events, done, close: () => cut.abort(), until: (name: string, count = 1) => expect.poll(() => events.filter((one) => one.name === name).length, { timeout: 10_000 }).toBeGreaterThanOrEqual(count) };
}

const reading = (key: Reading['generator'], channel: Channel, value: number): Reading => ({ generator: key, channel, atMs: NOW_MS, value, quality: 0, receivedMs: NOW_MS });

test('GET /live sends the status at once and every 2 s', async () => {
  const stream = await listen('/api/v1/live');
  const startMs = performance.now();
  await stream.until('status');
  expect(performance.now() - startMs).toBeLessThan(1500);
  await stream.until('status', 3);
  expect(performance.now() - startMs).toBeGreaterThan(2000);
  expect(stream.events[0]).toEqual({ name: 'status', data: world.status.now });
  stream.close();
});

test('GET /live tells of a tick once the new lists are there, and of what people do', async () => {
  const stream = await listen('/api/v1/live');
  const report = (await world.records.report())!;
  await world.records.saveAnalysis({ tickMs: NOW_MS + 600_000, replaced: [], days: [], cycles: [], findings: [], checkpoints: [], hotStates: [], report: { ...report, at: iso(NOW_MS + 600_000) } });
  world.server.ticked();
  await expect.poll(() => stream.events.filter((one) => one.name === 'tick').map((one) => one.data)).toContainEqual({ at: iso(NOW_MS + 600_000) });
  expect(((await (await fetch(`${world.base}/api/v1/ranking`)).json()) as { at: string }).at).toBe(iso(NOW_MS + 600_000));
  const before = stream.events.filter((one) => one.name === 'tick').length;
  await fetch(`${world.base}/api/v1/findings/invented-finding-0/acknowledge`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: '{"by":"Ana"}' });
  await stream.until('tick', before + 1);
  stream.close();
});

test('GET /live with a generator sends its readings as they are committed, and no other', async () => {
  const [one, other, none] = [await listen('/api/v1/live?site=invented-1&generator=gen-1'), await listen('/api/v1/live?site=invented-1&generator=gen-2'), await listen('/api/v1/live')];
  await Promise.all([one.until('status'), other.until('status'), none.until('status')]);
  world.server.committed(readingBatch([reading(keyAt(0), 'tank-pressure', 612), reading(keyAt(1), 'running', 1), reading(keyAt(0), 'running', 0), reading(keyAt(4), 'running', 1)]));
  await Promise.all([one.until('reading'), other.until('reading')]);
  expect(one.events.filter((event) => event.name === 'reading').map((event) => event.data)).toEqual([[{ channel: 'tank-pressure', at: iso(NOW_MS), value: 612 }, { channel: 'running', at: iso(NOW_MS), value: 0 }]]);
  expect(other.events.filter((event) => event.name === 'reading').map((event) => event.data)).toEqual([[{ channel: 'running', at: iso(NOW_MS), value: 1 }]]);
  expect(none.events.filter((event) => event.name === 'reading')).toEqual([]);
  for (const stream of [one, other, none]) stream.close();
});

test('HEAD /live ends at once and takes no place', async () => {
  const response = await fetch(`${world.base}/api/v1/live`, { method: 'HEAD' });
  expect([response.status, response.headers.get('content-type')]).toEqual([200, 'text/event-stream; charset=utf-8']);
  expect(await response.text()).toBe('');
});

test('GET /live keeps a connection although the status can not be told', async () => {
  const broken = await startInvented({ change: { status: () => Promise.reject(new Error('down')) } });
  const response = await fetch(`${broken.base}/api/v1/live`);
  const reader = response.body!.pipeThrough(new TextDecoderStream()).getReader();
  let text = '';
  while (!text.includes(': heartbeat')) text += (await reader.read()).value ?? '';
  expect(text).toContain('retry: 3000');
  await broken.stop();
});

/** A connection that asks for the stream; reads nothing more until told. */
function open(): Promise<{ socket: Socket; head: string }> {
  return new Promise((resolve, reject) => {
    const socket = connect(world.server.port, '127.0.0.1', () => socket.write('GET /api/v1/live?site=invented-1&generator=gen-1 HTTP/1.1\r\nhost: localhost\r\n\r\n'));
    socket.on('error', reject).once('data', (data) => {
      socket.pause();
      resolve({ socket, head: data.toString() });
    });
  });
}

test('GET /live takes 500 connections and refuses the next in words; a closed one makes room', async () => {
  const first = await Promise.all(Array.from({ length: 500 }, open));
  expect(first.every(({ head }) => head.startsWith('HTTP/1.1 200'))).toBe(true);
  const refused = await fetch(`${world.base}/api/v1/live`);
  expect([refused.status, refused.headers.get('retry-after')]).toEqual([503, '30']);
  expect(((await refused.json()) as { detail: string }).detail).toContain('500 pages listen already');
  first[0]?.socket.destroy();
  await expect.poll(async () => {
    const { socket, head } = await open();
    first.push({ socket, head });
    return head.slice(0, 12);
  }).toBe('HTTP/1.1 200');
  for (const { socket } of first) socket.destroy();
});

test('a reader that takes nothing is dropped, the others miss nothing', async () => {
  const slow = await open();
  const quick = await listen('/api/v1/live?site=invented-1&generator=gen-1');
  await quick.until('status');
  const batch = readingBatch(Array.from({ length: 10_000 }, (_, index) => ({ ...reading(keyAt(0), 'tank-pressure', index), atMs: NOW_MS + index })));
  for (let sent = 1; sent <= 20; sent += 1) {
    world.server.committed(batch);
    await quick.until('reading', sent);
  }
  // 20 events of about 0.7 MB: beyond what the kernel holds for a reader that sleeps.
  let dropped = false;
  slow.socket.on('close', () => (dropped = true)).on('error', () => undefined).resume();
  await expect.poll(() => dropped, { timeout: 10_000 }).toBe(true);
  expect(quick.events.filter((one) => one.name === 'reading')).toHaveLength(20);
  quick.close();
});
