// Issue: from `npm run demo` to a usable page, live readings over MQTT, Ctrl-C within 8 s, and again from the kept folder.
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { afterEach, beforeEach, expect, test } from 'vitest';
import type { CheckAnswer, OverviewRow, Page, Status } from '../../shared/api.ts';
import type { RankingReport } from '../../shared/finding.ts';
import { eventually, freePort, getJson, type LullProcess, runLull, startLull, untilUp } from './lull-process.ts';

let folder: string;
let lull: LullProcess | undefined;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lull-demo-'));
});
afterEach(() => {
  lull?.child.kill('SIGKILL');
  rmSync(folder, { recursive: true, force: true });
});

async function startDemo(more: readonly string[]): Promise<{ readonly process: LullProcess; readonly url: string; readonly mqttUrl: string }> {
  const [httpPort, mqttPort] = [await freePort(), await freePort()];
  lull = startLull(['demo', '--http-port', String(httpPort), '--mqtt-port', String(mqttPort), ...more], folder);
  const url = `http://127.0.0.1:${httpPort}`;
  await untilUp(lull, url, 90);
  return { process: lull, url, mqttUrl: `mqtt://127.0.0.1:${mqttPort}` };
}

async function askForCheck(url: string, { site, generator }: { readonly site: string; readonly generator: string }): Promise<CheckAnswer> {
  const response = await fetch(`${url}/api/v1/checks`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ site, generator }) });
  expect(response.status).toBe(202);
  return (await response.json()) as CheckAnswer;
}

async function stop(process: LullProcess): Promise<void> {
  const askedMs = Date.now();
  process.child.kill('SIGINT');
  const ended = await process.ended;
  expect(ended.said).not.toContain('lull:');
  expect(ended.code).toBe(0);
  expect(Date.now() - askedMs).toBeLessThan(8000);
}

test('demo shows a ranked fleet, goes on live over MQTT, stops, and goes on from its folder', async () => {
  const first = await startDemo(['--days', '16', '--time-scale', '60']);
  const ranking = await getJson<RankingReport>(`${first.url}/api/v1/ranking`);
  expect(ranking.ranking.length).toBeGreaterThanOrEqual(40);
  expect(ranking.ranking.filter((row) => row.dutyRatio !== null).length).toBeGreaterThanOrEqual(30);
  const overview = await getJson<Page<OverviewRow>>(`${first.url}/api/v1/overview?limit=200`);
  expect(overview.items.some((row) => row.band.some((day) => day.runS !== null))).toBe(true);
  const page = await fetch(first.url);
  expect(page.status).toBe(200);
  expect(page.headers.get('lull-simulated')).toBe('true');
  expect(await page.text()).toContain('<html');
  expect((await getJson<Status>(`${first.url}/api/v1/status`)).simulated).toBe(true);

  // Somebody else on the same broker hears what the invented gateways publish, and Lull keeps it.
  const listener = await connectAsync(first.mqttUrl);
  const heard: string[] = [];
  listener.on('message', (topic) => heard.push(topic));
  await listener.subscribeAsync('lull/v1/+/+/readings', { qos: 1 });
  await eventually('readings over MQTT', 20, () => (heard.length > 20 ? true : undefined));
  await listener.endAsync();
  const before = await getJson<Status>(`${first.url}/api/v1/status`);
  const after = await eventually('a later reading and a later tick', 40, async () => {
    const now = await getJson<Status>(`${first.url}/api/v1/status`);
    return Date.parse(now.lastReadingAt ?? '') > Date.parse(before.lastReadingAt ?? '') && Date.parse(now.lastTickAt ?? '') > Date.parse(before.lastTickAt ?? '') ? now : undefined;
  });
  expect(after.quarantined).toBe(0);
  // The check before leaving: asked for by a page, answered by the analysis in its thread.
  const { id } = await askForCheck(first.url, ranking.ranking.find((row) => row.dataState === 'reporting') ?? ranking.ranking[0]!);
  const answer = await eventually('an answer to a check', 20, async () => {
    const now = await getJson<CheckAnswer>(`${first.url}/api/v1/checks/${id}`);
    return now.answeredAt === null ? undefined : now;
  });
  expect(answer.problem).toBeNull();
  expect(answer.check?.care).toContain('no proof');
  expect(answer.check?.items.length).toBeGreaterThan(0);
  // While it runs, a command asks it.
  const asked = await runLull(['rank', '--json', '--data', 'demo-data'], folder);
  expect(asked.code).toBe(0);
  expect((JSON.parse(asked.out) as RankingReport).ranking.length).toBe(ranking.ranking.length);
  await stop(first.process);

  const startedMs = Date.now();
  const second = await startDemo([]);
  expect(Date.now() - startedMs).toBeLessThan(30_000);
  const again = await getJson<RankingReport>(`${second.url}/api/v1/ranking`);
  expect(again.ranking.length).toBe(ranking.ranking.length);
  expect(Date.parse(again.at ?? '')).toBeGreaterThanOrEqual(Date.parse(after.lastTickAt ?? ''));
  await stop(second.process);
  // Stopped, the folder answers by itself.
  const offline = await runLull(['findings', '--json', '--data', 'demo-data'], folder);
  expect(offline.code).toBe(0);
  expect(Object.keys(JSON.parse(offline.out) as object).sort()).toEqual(['at', 'findings', 'ranking']);
}, 240_000);

test('demo --fresh does not empty a folder that is none of its own', async () => {
  writeFileSync(join(folder, 'mine.txt'), 'kept');
  const refused = await runLull(['demo', '--fresh', '--data', '.'], folder);
  expect(refused.code).toBe(1);
  expect(refused.said).toContain('holds something else than a demo');
  expect(readFileSync(join(folder, 'mine.txt'), 'utf8')).toBe('kept');
  expect(() => readFileSync(join(folder, 'demo.json'))).toThrow();
});
