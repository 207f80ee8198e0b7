// Source: first 1,000 rows of MetroPT-3, a real compressor on a metro train (UCI 791, doi:10.1038/s41597-022-01877-3, CC BY 4.0):
// five loaded starts, loaded duty 5.1 %, reservoir between 8.07 and 10.10 bar. Here through a real broker (Debian's mosquitto,
// QoS 1), with the server ended twice in the middle, once politely and once with kill -9.
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync, type MqttClient } from 'mqtt';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Page, ReadingsAnswer, Status } from '../../shared/api.ts';
import type { Cycle, DayRow } from '../../shared/cycle.ts';
import { eventually, freePort, getJson, type LullProcess, runLull, startLull, untilUp } from './lull-process.ts';
import { type Broker, startMosquitto } from './mosquitto.ts';

const ROWS = readRows(new URL('../analysis/cycles/data/compressor_rows.csv', import.meta.url));
const STARTS = ['00:23:08', '00:57:19', '01:30:41', '02:04:23', '02:37:54'].map((time) => Date.parse(`2020-02-01T${time}Z`));
/** The record's own step is 9 to 10 s: a start is seen at the first sample after it. */
const SAMPLE_MS = 10_000;
const TOPIC = 'lull/v1/metro/gen-1/readings';
const CHANNELS = ['running', 'tank-pressure', 'motor-current'];
/** The server's clock starts after the record's end and runs 60 times as fast, so that a tick comes every 10 s. */
const CLOCK_START_MS = Date.parse('2020-02-01T02:52:00Z');
const SCALE = 60;
/** At last it is sped up: a day is written when its 2 h of grace are over and something newer was heard. */
const LAST_SCALE = 3600;
const NEXT_DAY_MS = Date.parse('2020-02-02T03:00:00Z');

type Row = { readonly atMs: number; readonly running: boolean; readonly tankBar: number; readonly motorA: number };

function readRows(file: URL): Row[] {
  const [head = '', ...lines] = readFileSync(file, 'utf8').trim().split('\n').filter((line) => !line.startsWith('#'));
  const names = head.split(',');
  const column = (name: string): number => names.indexOf(name);
  const [time, loaded, reservoirs, current] = ['timestamp', 'DV_eletric', 'Reservoirs_bar', 'Motor_current_A'].map(column) as [number, number, number, number];
  return lines.map((line) => {
    const cells = line.split(',');
    // Delivering, not: its motor idles.
    return { atMs: Date.parse(`${cells[time]?.replace(' ', 'T')}Z`), running: Number(cells[loaded]) === 1, tankBar: Number(cells[reservoirs]), motorA: Number(cells[current]) };
  });
}

function pack(row: Row): string {
  return JSON.stringify([
    { bn: 'metro:gen-1:', bt: row.atMs / 1000, n: 'running', vb: row.running },
    { n: 'tank-pressure', u: 'bar', v: row.tankBar },
    { n: 'motor-current', u: 'A', v: row.motorA },
  ]);
}

let folder: string;
let broker: Broker;
let gateway: MqttClient;
let lull: LullProcess;
let url: string;
let httpPort: number;
const startedMs = Date.now();

async function serve(scale = SCALE): Promise<void> {
  // Each start goes on where the clock would be, as it does on a machine.
  const nowMs = CLOCK_START_MS + (Date.now() - startedMs) * SCALE;
  lull = startLull(['serve', '--clock', `${new Date(nowMs).toISOString()}@${scale}`], folder, { LULL_MQTT_URL: broker.url, LULL_HTTP_PORT: String(httpPort), LULL_DATA: 'data' });
  await untilUp(lull, url, 20);
}

async function publish(rows: readonly Row[]): Promise<void> {
  await Promise.all(rows.map((row) => gateway.publishAsync(TOPIC, pack(row), { qos: 1 })));
}

async function until(rows: number): Promise<void> {
  await eventually(`row ${rows}`, 30, async () => {
    const answer = await getJson<ReadingsAnswer>(`${url}/api/v1/readings?site=metro&generator=gen-1&channel=running&from=2020-02-01T00:00:00Z&to=2020-02-01T03:00:00Z&buckets=500`);
    const last = answer.points.at(-1)?.[0] ?? 0;
    return last + answer.bucketMs > (ROWS[rows - 1]?.atMs ?? Infinity) ? true : undefined;
  });
}

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lull-broker-'));
  broker = await startMosquitto(folder);
  httpPort = await freePort();
  url = `http://127.0.0.1:${httpPort}`;
  gateway = await connectAsync(broker.url, { clientId: 'gateway-of-the-metro' });
});

afterAll(async () => {
  lull?.child.kill('SIGKILL');
  await gateway?.endAsync();
  await broker?.stop();
  rmSync(folder, { recursive: true, force: true });
});

test('serve keeps every reading of a real compressor once, through two restarts, and finds its cycles', async () => {
  expect(ROWS).toHaveLength(1000);
  await serve();
  await publish(ROWS.slice(0, 400));
  await until(400);
  // Ended politely; the broker keeps what comes meanwhile.
  const askedMs = Date.now();
  lull.child.kill('SIGTERM');
  const polite = await lull.ended;
  expect(polite.code).toBe(0);
  expect(Date.now() - askedMs).toBeLessThan(8000);
  await publish(ROWS.slice(400, 600));
  await serve();
  await until(600);
  // Ended without a word in the middle of what is published.
  const publishing = publish(ROWS.slice(600, 900));
  await eventually('the first of these readings', 20, async () => ((await getJson<Status>(`${url}/api/v1/status`)).lastReadingAt ?? '' ? true : undefined));
  lull.child.kill('SIGKILL');
  await lull.ended;
  await publishing;
  await publish(ROWS.slice(900));
  // A gateway that doesn't know whether it was heard says it again.
  await publish(ROWS.slice(880));
  await serve(LAST_SCALE);
  await until(1000);

  await eventually('the next day', 60, async () => (Date.parse((await getJson<Status>(`${url}/api/v1/status`)).nowAt) > NEXT_DAY_MS ? true : undefined));
  const newest = { ...(ROWS.at(-1) as Row), atMs: NEXT_DAY_MS };
  await publish([newest]);
  const day = await eventually('the day of the record, folded', 60, async () => {
    const { items } = await getJson<Page<DayRow>>(`${url}/api/v1/days?site=metro&generator=gen-1&from=2020-01-31T00:00:00Z&to=2020-02-03T00:00:00Z`);
    const found = items.find((one) => one.day === '2020-02-01');
    return found !== undefined && !found.provisional && found.starts >= 5 ? found : undefined;
  });
  const recordS = ((ROWS.at(-1)?.atMs ?? 0) - (ROWS[0]?.atMs ?? 0)) / 1000;
  // Five starts and five stops, each seen up to a sample late.
  expect(Math.abs(day.runS - 0.051 * recordS)).toBeLessThan(5 * 10);
  expect(day.dutyRatio).toBeCloseTo(0.051, 3);
  expect(day.starts).toBe(5);
  const cycles = await getJson<Page<Cycle>>(`${url}/api/v1/cycles?site=metro&generator=gen-1&from=2020-02-01T00:00:00Z&to=2020-02-01T03:00:00Z`);
  const starts = cycles.items.filter((cycle) => cycle.runS > 0).map((cycle) => cycle.startMs);
  expect(starts.map((startMs, index) => Math.abs(startMs - (STARTS[index] ?? 0)) <= SAMPLE_MS)).toEqual([true, true, true, true, true]);
  const band = await getJson<ReadingsAnswer>(`${url}/api/v1/readings?site=metro&generator=gen-1&channel=tank-pressure&from=2020-02-01T00:00:00Z&to=2020-02-01T03:00:00Z&buckets=10`);
  // Kept in kPa gauge: the very lowest and highest value that was sent; the description rounds them to 8.07 and 10.10 bar.
  const [lowKPa, highKPa] = [Math.min(...band.points.map(([, min]) => min)), Math.max(...band.points.map(([, , , max]) => max))];
  expect(lowKPa).toBeCloseTo(100 * Math.min(...ROWS.map((row) => row.tankBar)), 6);
  expect(highKPa).toBeCloseTo(100 * Math.max(...ROWS.map((row) => row.tankBar)), 6);
  expect(Math.abs(lowKPa - 807)).toBeLessThan(1);
  expect(Math.abs(highKPa - 1010)).toBeLessThan(1);

  lull.child.kill('SIGTERM');
  expect((await lull.ended).code).toBe(0);
  await expectEachReadingOnce([...ROWS, newest]);
}, 180_000);

/** The whole log, read back from the store: every value that the gateway sent, once. */
async function expectEachReadingOnce(rows: readonly Row[]): Promise<void> {
  const exported = await runLull(['export', 'recording', '--data', 'data'], folder);
  expect(exported.said).toBe('');
  expect(exported.code).toBe(0);
  const found = new Map<string, number[]>();
  for (const line of readFileSync(join(folder, 'recording', 'readings.ndjson'), 'utf8').trim().split('\n')) {
    const { topic, payload, kept } = JSON.parse(line) as { topic: string; payload: readonly Record<string, unknown>[]; kept?: boolean };
    if (topic !== TOPIC) continue;
    expect(kept).toBe(true);
    let base = 0;
    for (const record of payload) {
      base = typeof record['bt'] === 'number' ? record['bt'] : base;
      const atMs = Math.round((base + Number(record['t'] ?? 0)) * 1000);
      const key = `${String(record['n'])}@${atMs}`;
      found.set(key, [...(found.get(key) ?? []), Number(record['v'] ?? record['vb'])]);
    }
  }
  expect(found.size).toBe(rows.length * CHANNELS.length);
  expect([...found.values()].filter((values) => values.length !== 1)).toEqual([]);
  for (const row of rows) {
    expect(found.get(`running@${row.atMs}`)).toEqual([row.running ? 1 : 0]);
    expect(found.get(`tank-pressure@${row.atMs}`)?.[0]).toBeCloseTo(row.tankBar * 100, 9);
    expect(found.get(`motor-current@${row.atMs}`)?.[0]).toBeCloseTo(row.motorA, 12);
  }
}
