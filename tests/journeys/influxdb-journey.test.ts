// Source: first 1,000 rows of MetroPT-3, a real compressor on a metro train (UCI 791, doi:10.1038/s41597-022-01877-3, CC BY 4.0):
// five loaded starts, loaded duty 5.1 %, reservoir between 8.064 and 10.098 bar. Here gateway → broker (mosquitto, QoS 1) →
// serve → InfluxDB → analysis → API, with the InfluxDB server killed in the middle; then the demo on InfluxDB, and copies of
// a whole log from the embedded store to InfluxDB and back.
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync, type MqttClient } from 'mqtt';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Page, ReadingsAnswer, Status } from '../../shared/api.ts';
import type { Cycle, DayRow } from '../../shared/cycle.ts';
import type { RankingReport } from '../../shared/finding.ts';
import { type Influxd, startInfluxd } from '../shared/store/influxd.ts';
import { eventually, freePort, getJson, type LullProcess, runLull, startLull, untilUp } from './lull-process.ts';
import { type Broker, startMosquitto } from './mosquitto.ts';

const STARTS = ['00:23:08', '00:57:19', '01:30:41', '02:04:23', '02:37:54'].map((time) => Date.parse(`2020-02-01T${time}Z`));
/** The record's own step is 9 to 10 s: a start is seen at the first sample after it. */
const SAMPLE_MS = 10_000;
/** The server's clock starts after the record's end and runs 60 times as fast, so that a tick comes every 10 s. */
const CLOCK = '2020-02-01T02:52:00Z@60';
/** Readings of 2020 are kept if that long is. */
const KEEP = { LULL_KEEP_READINGS_DAYS: '4000' };

let folder: string;
let influxd: Influxd;
let broker: Broker;
let gateway: MqttClient;
const running: LullProcess[] = [];
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lull-influx-'));
  [influxd, broker] = await Promise.all([startInfluxd(), startMosquitto(folder)]);
  gateway = await connectAsync(broker.url, { clientId: 'gateway-of-the-metro' });
});
afterAll(async () => {
  for (const lull of running) lull.child.kill('SIGKILL');
  await gateway?.endAsync();
  await broker?.stop();
  await influxd?.stop();
  rmSync(folder, { recursive: true, force: true });
});

async function start(args: readonly string[], environment: Readonly<Record<string, string>>, url: string): Promise<LullProcess> {
  const lull = startLull(args, folder, { LULL_INFLUX_URL: influxd.url, ...environment });
  running.push(lull);
  await untilUp(lull, url, 60);
  return lull;
}

async function end(lull: LullProcess): Promise<void> {
  lull.child.kill('SIGTERM');
  const ended = await lull.ended;
  expect(ended.said).not.toContain('lull:');
  expect(ended.code).toBe(0);
}

/** Packets of the record: run state, reservoir pressure, motor current. */
function packets(): string[] {
  const [head = '', ...lines] = readFileSync(new URL('../analysis/cycles/data/compressor_rows.csv', import.meta.url), 'utf8').trim().split('\n').filter((line) => !line.startsWith('#'));
  const at = (name: string): number => head.split(',').indexOf(name);
  const [time, loaded, reservoirs, current] = [at('timestamp'), at('DV_eletric'), at('Reservoirs_bar'), at('Motor_current_A')];
  return lines.map((line) => {
    const cells = line.split(',');
    return JSON.stringify([{ bn: 'metro:gen-1:', bt: Date.parse(`${cells[time]?.replace(' ', 'T')}Z`) / 1000, n: 'running', vb: Number(cells[loaded]) === 1 }, { n: 'tank-pressure', u: 'bar', v: Number(cells[reservoirs]) }, { n: 'motor-current', u: 'A', v: Number(cells[current]) }]);
  });
}

test('serve on InfluxDB keeps every reading of a real compressor once, while that server is killed, and finds its cycles', async () => {
  const port = await freePort();
  const url = `http://127.0.0.1:${port}`;
  // The clock is long past: what is a day old there is years old for the server.
  const environment = { LULL_MQTT_URL: broker.url, LULL_HTTP_PORT: String(port), LULL_DATA: 'data', ...KEEP };
  // After a power cut the server may come up later than we do.
  await influxd.pause();
  const lull = startLull(['serve', '--clock', CLOCK], folder, { LULL_INFLUX_URL: influxd.url, ...environment });
  running.push(lull);
  await eventually('a line that says what it waits for', 20, () => (/LULL_INFLUX_URL: .*ECONNREFUSED.*; waiting for it/.test(lull.text()) ? true : undefined));
  await influxd.start();
  await untilUp(lull, url, 30);
  const all = packets();
  expect(all).toHaveLength(1000);
  const publish = (some: readonly string[]): Promise<unknown> => Promise.all(some.map((pack) => gateway.publishAsync('lull/v1/metro/gen-1/readings', pack, { qos: 1 })));
  await publish(all.slice(0, 400));
  await influxd.pause('SIGKILL');
  await publish(all.slice(400, 700));
  await eventually('a readyz that says why', 20, async () => {
    const answer = await fetch(`${url}/api/v1/readyz`);
    return answer.status === 503 && /InfluxDB at .* doesn't answer/.test(await answer.text()) ? true : undefined;
  });
  expect((await getJson<Status>(`${url}/api/v1/status`)).wants.join()).toContain('InfluxDB');
  await influxd.start();
  // A gateway that doesn't know whether it was heard says it again.
  await publish(all.slice(650));
  const day = await eventually('the day of the record, folded', 60, async () => {
    const { items } = await getJson<Page<DayRow>>(`${url}/api/v1/days?site=metro&generator=gen-1&from=2020-01-31T00:00:00Z&to=2020-02-03T00:00:00Z`);
    const found = items.find((one) => one.day === '2020-02-01');
    return found !== undefined && found.starts >= 5 ? found : undefined;
  });
  expect(day.dutyRatio).toBeCloseTo(0.051, 2);
  const span = 'site=metro&generator=gen-1&from=2020-02-01T00:00:00Z&to=2020-02-01T03:00:00Z';
  // The fifth cycle's rest goes on at the end of the record, so four are whole; all five starts are in the readings.
  const { items: cycles } = await getJson<Page<Cycle>>(`${url}/api/v1/cycles?${span}`);
  const starts = cycles.filter((cycle) => cycle.runS > 0).map((cycle) => cycle.startMs);
  expect(starts.length).toBeGreaterThanOrEqual(4);
  expect(starts.filter((startMs, index) => Math.abs(startMs - (STARTS[index] ?? 0)) > SAMPLE_MS)).toEqual([]);
  const states = await getJson<ReadingsAnswer>(`${url}/api/v1/readings?${span}&channel=running&buckets=1000`);
  const rises = states.points.filter(([, , , max], index) => max === 1 && (states.points[index - 1]?.[3] ?? 0) === 0).map(([atMs]) => atMs);
  expect(rises.length).toBe(5);
  expect(rises.filter((atMs, index) => Math.abs(atMs - (STARTS[index] ?? 0)) > SAMPLE_MS + states.bucketMs)).toEqual([]);
  const band = await getJson<ReadingsAnswer>(`${url}/api/v1/readings?${span}&channel=tank-pressure&buckets=10`);
  expect(Math.min(...band.points.map(([, min]) => min))).toBeCloseTo(806.4, 6);
  expect(Math.max(...band.points.map(([, , , max]) => max))).toBeCloseTo(1009.8, 6);
  expect(await (await fetch(`${url}/api/v1/readyz`)).json()).toEqual({ ok: true });
  await end(lull);
  const answer = JSON.stringify(await influxd.ask('SELECT count(value) FROM lull..lull_reading GROUP BY channel'));
  expect([...answer.matchAll(/\[0,(\d+)\]/g)].map(([, count]) => count)).toEqual(['1000', '1000', '1000']);
  expect((await runLull(['export', 'recording', '--data', 'data'], folder, { LULL_INFLUX_URL: influxd.url, ...KEEP })).out).toMatch(/^3000 readings/);
}, 180_000);

test('demo on InfluxDB shows a ranked fleet from a database of its own, stops, and goes on from there', async () => {
  const port = await freePort();
  const url = `http://127.0.0.1:${port}`;
  const args = ['demo', '--data', 'demo', '--http-port', String(port), '--mqtt-port', String(await freePort()), '--days', '3', '--time-scale', '60'];
  const first = await start(args, {}, url);
  const ranking = await getJson<RankingReport>(`${url}/api/v1/ranking`);
  expect(ranking.ranking.length).toBeGreaterThanOrEqual(40);
  const before = await getJson<Status>(`${url}/api/v1/status`);
  await eventually('a later reading', 20, async () => (Date.parse((await getJson<Status>(`${url}/api/v1/status`)).lastReadingAt ?? '') > Date.parse(before.lastReadingAt ?? '') ? true : undefined));
  await end(first);
  expect(existsSync(join(folder, 'demo', 'readings.duckdb'))).toBe(false);
  const second = await start(args, {}, url);
  expect((await getJson<RankingReport>(`${url}/api/v1/ranking`)).ranking.length).toBe(ranking.ranking.length);
  await end(second);
  // Nothing invented came among the readings of the test before.
  expect(JSON.stringify(await influxd.ask('SELECT count(value) FROM lull..lull_reading'))).toContain('[0,3000]');
}, 180_000);

test('import and export move a log between the embedded store and InfluxDB, go on where they were, and count both sides', async () => {
  const own = { LULL_INFLUX_URL: influxd.url, LULL_INFLUX_DATABASE: 'moved', ...KEEP };
  expect((await runLull(['simulate', '--out', 'random', '--generators', '3', '--seed', '5', '--days', '3', '--end', '2026-03-05T00:00:00Z'], folder)).code).toBe(0);
  expect((await runLull(['import', 'random', '--data', 'embedded'], folder)).code).toBe(0);
  const unset = await runLull(['import', 'embedded'], folder);
  expect([unset.code, unset.said]).toEqual([1, expect.stringContaining('set LULL_INFLUX_URL')]);
  const there = await runLull(['import', 'embedded'], folder, own);
  expect([there.code, there.said]).toEqual([0, '']);
  const counted = /^(\d+) readings copied; embedded: (\d+) readings in (\d+) series; InfluxDB: (\d+) readings in (\d+) series\n$/.exec(there.out);
  expect(Number(counted?.[1])).toBeGreaterThan(10_000);
  expect([counted?.[2], counted?.[4]]).toEqual([counted?.[1], counted?.[1]]);
  expect(counted?.[5]).toBe(counted?.[3]);
  expect((await runLull(['import', 'embedded'], folder, own)).out).toMatch(/^0 readings copied; /);
  // A mark that promises more than there is, as when the other side was emptied meanwhile.
  await influxd.ask('DROP DATABASE moved');
  writeFileSync(join(folder, 'embedded', 'moving-to-influxdb.json'), JSON.stringify({ place: `${influxd.url} moved `, throughMs: Date.parse('2026-03-04T00:00:00Z') }));
  const again = await runLull(['import', 'embedded'], folder, own);
  expect([again.code, again.out.replace(/^\d+/, '')]).toEqual([0, there.out.replace(/^\d+/, '')]);

  const back = await runLull(['export', 'back', '--embedded'], folder, own);
  expect([back.code, back.said]).toEqual([0, '']);
  expect(back.out).toBe(`${counted?.[1]} readings copied; InfluxDB: ${counted?.[1]} readings in ${counted?.[3]} series; embedded: ${counted?.[1]} readings in ${counted?.[3]} series\n`);
  // The log that replay reads is the same from all three.
  const logs = [];
  for (const [name, data, environment] of [['log-1', 'embedded', {}], ['log-2', 'embedded', own], ['log-3', 'back', {}]] as const) {
    // Records stay where they were; a log is exported with them.
    if (data === 'back') writeFileSync(join(folder, 'back', 'records.sqlite'), readFileSync(join(folder, 'embedded', 'records.sqlite')));
    const exported = await runLull(['export', name, '--data', data], folder, environment);
    expect([exported.code, exported.said]).toEqual([0, '']);
    logs.push(readFileSync(join(folder, name, 'readings.ndjson'), 'utf8'));
  }
  expect(logs[1] === logs[0]).toBe(true);
  expect(logs[2] === logs[0]).toBe(true);
}, 120_000);
