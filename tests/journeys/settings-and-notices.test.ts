// Issue: "Screens for four people", notices and settings in the whole program: a page's change reaches ingest and analysis at once and survives a restart; a finding is told by mail, once. Real program, broker, stores and mail server.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync, type MqttClient } from 'mqtt';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { GeneratorDetail, Page, Status } from '../../shared/api.ts';
import type { RankingReport } from '../../shared/finding.ts';
import type { NoticeShown } from '../../shared/notice.ts';
import type { RegistryAnswer, SiteAsKept } from '../../shared/settings-api.ts';
import { type MailServer, startMailServer } from '../dashboard/notices/world.ts';
import { eventually, freePort, getJson, type LullProcess, startLull, untilUp } from './lull-process.ts';

/** An hour passes in a second. */
const SCALE = 3600;
let folder: string;
let mail: MailServer;
let lull: LullProcess;
let api: string;
let gateway: MqttClient;
let clockAtMs = Date.parse('2026-03-02T00:00:00Z');

async function start(): Promise<void> {
  const [httpPort, mqttPort] = [await freePort(), await freePort()];
  lull = startLull(['serve', '--data', 'data', '--http-port', String(httpPort), '--mqtt-port', String(mqttPort), '--clock', `${new Date(clockAtMs).toISOString()}@${SCALE}`], folder, { LULL_SMTP_URL: mail.url, LULL_SMTP_FROM: 'lull@invented.example', LULL_PUBLIC_URL: 'https://lull.invented.example/' });
  api = `http://127.0.0.1:${httpPort}/api/v1`;
  await untilUp(lull, `http://127.0.0.1:${httpPort}`, 30);
  gateway = await connectAsync(`mqtt://127.0.0.1:${mqttPort}`, { clientId: 'invented-gateway' });
}

async function stop(): Promise<void> {
  clockAtMs = Date.parse((await getJson<Status>(`${api}/status`)).nowAt) + 60_000;
  await gateway.endAsync();
  lull.child.kill('SIGTERM');
  expect((await lull.ended).code).toBe(0);
}

async function post<T>(path: string, body: unknown): Promise<T> {
  const response = await fetch(api + path, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
  const answer = (await response.json()) as T;
  if (!response.ok) throw new Error(`${path} answered ${response.status}: ${JSON.stringify(answer)}`);
  return answer;
}

const publish = (generator: string, payload: unknown): Promise<unknown> => gateway.publishAsync(`lull/v1/dock-9/${generator}/readings`, JSON.stringify(payload), { qos: 1 });
const siteNow = async (): Promise<SiteAsKept> => (await getJson<RegistryAnswer>(`${api}/registry`)).sites.find((one) => one.site.id === 'dock-9')!;
const detail = (generator: string): Promise<GeneratorDetail> => getJson<GeneratorDetail>(`${api}/generators/dock-9/${generator}`);

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lull-settings-journey-'));
  mail = await startMailServer();
  await start();
}, 60_000);
afterAll(async () => {
  lull.child.kill('SIGKILL');
  await mail.stop();
  rmSync(folder, { recursive: true, force: true });
});

test('a generator that is heard is registered on the page, and the page, ingest and analysis know it at once and after a restart', async () => {
  await publish('gen-1', [{ n: 'running', vb: false }, { n: 'tank-pressure', u: 'kPa', v: 650 }]);
  await eventually('the newcomer is listed', 20, async () => (await getJson<RegistryAnswer>(`${api}/registry`)).unclaimed.find((one) => one.generator === 'gen-1'));
  const site = await post<SiteAsKept>('/registry/sites', { by: 'Ana', seenRecordedAt: null, site: { id: 'dock-9', name: 'Dock 9', timeZone: 'Europe/Lisbon' } });
  await post('/registry/generators', { by: 'Ana', seenRecordedAt: site.recordedAt, site: 'dock-9', generator: { id: 'gen-1', channels: { 'tank-pressure': { absolute: true } }, outOfService: true } });
  expect((await detail('gen-1')).claimed).toBe(true);
  await publish('gen-1', [{ n: 'tank-pressure', u: 'kPa', v: 751.325 }]);
  await eventually('ingest takes the pressure as absolute', 20, async () => (await detail('gen-1')).latest.find((one) => one.channel === 'tank-pressure' && Math.abs(one.value - 650) < 0.01));
  await eventually('analysis knows that it is out of service', 20, async () => (await getJson<RankingReport>(`${api}/ranking`)).ranking.find((row) => row.dataState === 'out-of-service'));
  await stop();
  await start();
  expect((await siteNow()).site.generators).toMatchObject([{ id: 'gen-1', outOfService: true }]);
  await eventually('analysis still knows', 20, async () => (await getJson<RankingReport>(`${api}/ranking`)).ranking.find((row) => row.dataState === 'out-of-service'));
}, 120_000);

test('gateways that were exchanged are kept apart, and a meter is typed in through ingest’s own door', async () => {
  const two = await post<SiteAsKept>('/registry/generators', { by: 'Ana', seenRecordedAt: (await siteNow()).recordedAt, site: 'dock-9', generator: { id: 'gen-2' } });
  await post('/registry/swap', { by: 'Ana', seenRecordedAt: two.recordedAt, site: 'dock-9', one: 'gen-1', other: 'gen-2' });
  await publish('gen-1', [{ n: 'motor-current', u: 'A', v: 7 }]);
  await eventually('it is kept under the other', 20, async () => (await detail('gen-2')).latest.find((one) => one.channel === 'motor-current' && one.value === 7));
  expect((await detail('gen-1')).latest.some((one) => one.channel === 'motor-current')).toBe(false);
  const { nowAt } = await getJson<Status>(`${api}/status`);
  await post('/readings/typed', { by: 'Rui', site: 'dock-9', generator: 'gen-2', channel: 'run-time', at: nowAt, value: 1234.5 });
  expect((await detail('gen-2')).latest.find((one) => one.channel === 'run-time')?.value).toBe(1234.5 * 3600);
  await expect(post('/readings/typed', { by: 'Rui', site: 'dock-9', generator: 'gen-2', channel: 'run-time', at: nowAt, value: 1234 })).rejects.toThrow('409');
}, 60_000);

test('a compressor that runs without end is told by mail, once, with a link; its closing too, after a restart', async () => {
  await post('/registry/sites', { by: 'Ana', seenRecordedAt: null, site: { id: 'mill-4', name: 'Mill 4' } });
  await post('/notice-rules', { by: 'Ana', rule: { name: 'Desk', timeZone: 'Europe/Lisbon', to: { kind: 'email', address: 'desk@invented.example' }, sites: ['mill-4'], causes: ['runs-without-end'], changes: ['opened', 'closed'] } });
  const told = await eventually('the notice', 60, async () => {
    await gateway.publishAsync('lull/v1/mill-4/gen-1/readings', JSON.stringify([{ n: 'running', vb: true }]), { qos: 1 });
    return (await getJson<Page<NoticeShown>>(`${api}/notices`)).items.find((one) => one.state === 'sent');
  });
  expect(told.subject).toContain('Mill 4, gen-1: runs without end');
  expect(told.text).toContain('https://lull.invented.example/generators/mill-4/gen-1');
  expect(mail.mails).toHaveLength(1);
  await stop();
  await start();
  const finding = told.items[0]!.finding;
  await post(`/findings/${finding}/close`, { by: 'Ana', reason: 'false' });
  await eventually('the second mail', 30, () => (mail.mails.length >= 2 ? true : undefined));
  const sent = (await getJson<Page<NoticeShown>>(`${api}/notices`)).items.filter((one) => one.items.some((item) => item.finding === finding));
  expect(sent.map((one) => one.items[0]?.change)).toEqual(['closed', 'opened']);
}, 180_000);
