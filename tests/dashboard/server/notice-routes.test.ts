// Issue: "Screens for four people", notices: rules, tests, failures and repeats over the API; secrets are never given out. Real server, real SQLite file, real receiver.
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Page } from '../../../shared/api.ts';
import { SILENT_LOG } from '../../../shared/log.ts';
import type { NoticeRuleShown, NoticeShown } from '../../../shared/notice.ts';
import { type Notices, openNotices } from '../../../dashboard/notices/notices.ts';
import { noticeWords } from '../../../dashboard/views/notice-words.ts';
import { type Receiver, SECRET, startReceiver } from '../notices/world.ts';
import { type InventedServer, startInvented } from './invented-fleet.ts';

let world: InventedServer;
let receiver: Receiver;
let notices: Notices;
beforeAll(async () => {
  receiver = await startReceiver();
  world = await startInvented({ change: { notices: { mailFrom: null, publicUrl: 'https://lull.invented.example', test: (rule) => notices.test(rule), retry: (id) => notices.retry(id) } } });
  const generatorUrl = (): null => null;
  notices = openNotices({ records: world.records, clock: { nowMs: () => world.nowMs }, random: () => 0.5, log: SILENT_LOG, generator: (key) => world.registered.find((one) => one.key === key)!, words: noticeWords({ simulated: true, generatorUrl }), simulated: true, generatorUrl });
});
afterAll(async () => {
  await world.stop();
  await receiver.stop();
});

const get = async <T>(path: string): Promise<T> => (await (await fetch(`${world.base}/api/v1${path}`)).json()) as T;
async function post(path: string, body: unknown): Promise<{ status: number; body: Record<string, unknown> }> {
  const response = await fetch(`${world.base}/api/v1${path}`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
  return { status: response.status, body: (await response.json()) as Record<string, unknown> };
}
const hook = (more: Record<string, unknown> = {}, secret: string | undefined = SECRET) => ({ name: 'Hook', timeZone: 'Europe/Lisbon', to: { kind: 'webhook', url: receiver.url, ...(secret !== undefined && { secret }) }, ...more });

test('POST /notice-rules keeps a rule with who and when; its secret is taken in and never given out', async () => {
  const made = await post('/notice-rules', { by: 'Ana', rule: hook() });
  expect(made).toMatchObject({ status: 200, body: { name: 'Hook', enabled: true, changes: ['opened', 'reopened', 'off-the-shelf'], to: { kind: 'webhook', url: receiver.url } } });
  const id = String(made.body['id']);
  expect(await post('/notice-rules', { by: 'Rui', rule: { ...hook({ id, name: 'Hook, renamed' }), to: { kind: 'webhook', url: receiver.url } } })).toMatchObject({ status: 200, body: { id, name: 'Hook, renamed' } });
  expect(await post('/notice-rules', { by: 'Rui', rule: { ...hook({ id }), to: { kind: 'webhook', url: 'https://elsewhere.invented.example/' } } })).toMatchObject({ status: 400, body: { detail: expect.stringContaining('needs a secret') } });
  const rules = await get<Page<NoticeRuleShown>>('/notice-rules');
  expect(rules.items.map((one) => one.name)).toEqual(['Hook, renamed']);
  expect(JSON.stringify(rules)).not.toContain('whsec');
  expect(await get('/notice-sending')).toEqual({ mailFrom: null, publicUrl: 'https://lull.invented.example' });
  const audit = await get<Page<{ by: string; did: string }>>('/audit');
  expect(audit.items.slice(0, 2).map((one) => `${one.by}: ${one.did}`)).toEqual(['Rui: changed a rule of notices', 'Ana: made a rule of notices']);
  expect(JSON.stringify(audit)).not.toContain('whsec');
});

test('POST …/test sends now and says how it went; what was given up can be sent again', async () => {
  const [rule] = (await get<Page<NoticeRuleShown>>('/notice-rules')).items;
  expect(await post(`/notice-rules/${rule!.id}/test`, { by: 'Ana' })).toMatchObject({ status: 200, body: { kind: 'test', state: 'sent' } });
  expect(receiver.posts).toHaveLength(1);
  receiver.answer = 410;
  const failed = await post(`/notice-rules/${rule!.id}/test`, { by: 'Ana' });
  expect(failed).toMatchObject({ status: 200, body: { state: 'given-up', lastError: 'the receiver answered with 410' } });
  expect(await post(`/notices/${String(failed.body['id'])}/retry`, { by: 'Ana' })).toMatchObject({ status: 409 });
  await notices.run();
  world.nowMs += 1000;
  await post('/findings/invented-finding-1/close', { by: 'Ana', reason: 'false' });
  world.nowMs += 1000;
  await notices.run();
  world.nowMs += 1000;
  await post('/findings/invented-finding-1/reopen', { by: 'Ana' });
  world.nowMs += 1000;
  await notices.run();
  const [given] = (await get<Page<NoticeShown>>('/notices')).items;
  expect(given).toMatchObject({ kind: 'finding', state: 'given-up', items: [{ finding: 'invented-finding-1', change: 'reopened' }] });
  receiver.answer = 204;
  expect(await post(`/notices/${given!.id}/retry`, { by: 'Ana' })).toMatchObject({ status: 200, body: { state: 'waiting' } });
  await notices.run();
  expect((await get<Page<NoticeShown>>('/notices?limit=1')).items[0]).toMatchObject({ id: given!.id, state: 'sent', lastError: null });
  expect(await post('/notices/nobody/retry', { by: 'Ana' })).toMatchObject({ status: 404 });
});

test('POST /notice-rules/{id}/remove takes a rule away for good; unknown ids and wrong rules are refused by name', async () => {
  const [rule] = (await get<Page<NoticeRuleShown>>('/notice-rules')).items;
  expect(await post(`/notice-rules/${rule!.id}/remove`, { by: 'Ana' })).toMatchObject({ status: 200 });
  expect((await get<Page<NoticeRuleShown>>('/notice-rules')).items).toEqual([]);
  expect(await post(`/notice-rules/${rule!.id}/remove`, { by: 'Ana' })).toMatchObject({ status: 404 });
  expect(await post('/notice-rules/nobody/test', { by: 'Ana' })).toMatchObject({ status: 404 });
  for (const [wrong, says] of [[{ timeZone: 'Harbour' }, 'timeZone'], [{ digestAt: '7:00' }, 'digestAt'], [{ changes: [] }, 'changes'], [{ causes: ['rust'] }, 'causes'], [{ to: { kind: 'email', address: 'nobody' } }, 'to.address'], [{ to: { kind: 'webhook', url: 'ftp://x', secret: SECRET } }, 'to.url']] as const) {
    expect(await post('/notice-rules', { by: 'Ana', rule: hook(wrong) })).toMatchObject({ status: 400, body: { detail: expect.stringContaining(says) } });
  }
});
