// Issue: "Screens for four people", notices: one message for each finding and change, retries that survive a restart, failures visible. Real SMTP server, real HTTP receiver, real SQLite file.
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type Notices, type NoticesParams, openNotices } from '../../../dashboard/notices/notices.ts';
import { MOST_ATTEMPTS } from '../../../dashboard/notices/retry-after.ts';
import { removeRule, saveRule } from '../../../dashboard/notices/rules.ts';
import { sendWebhook } from '../../../dashboard/notices/send-webhook.ts';
import { webhookSignature } from '../../../dashboard/notices/webhook-signature.ts';
import { noticeWords } from '../../../dashboard/views/notice-words.ts';
import { entrySchema } from '../../../shared/entry.ts';
import type { Finding } from '../../../shared/finding.ts';
import { SILENT_LOG } from '../../../shared/log.ts';
import type { NoticeRule } from '../../../shared/notice.ts';
import type { RecordStore } from '../../../shared/store/record-store.ts';
import { openSqliteRecords } from '../../../shared/store/sqlite-records.ts';
import { visitSchema } from '../../../shared/visit.ts';
import { act, finding, HOUR_MS, iso, type MailServer, generatorAt, type Receiver, row, rule, SECRET, startMailServer, startReceiver, T0, tick } from './world.ts';

let folder: string;
let records: RecordStore;
let mail: MailServer;
let receiver: Receiver;
let nowMs: number;
let notices: Notices;

const generatorUrl = (site: string, generator: string): string => `https://lull.invented.example/generators/${site}/${generator}`;
function open(more: Partial<NoticesParams> = {}): Notices {
  return openNotices({ records, clock: { nowMs: () => nowMs }, random: () => 0.5, log: SILENT_LOG, generator: generatorAt, words: noticeWords({ simulated: false, generatorUrl }), simulated: false, generatorUrl, smtp: { url: mail.url, from: 'lull@invented.example' }, ...more });
}
const openStore = (): Promise<RecordStore> => openSqliteRecords({ file: join(folder, 'records.sqlite') });
const webhookTo = () => ({ to: { kind: 'webhook', url: receiver.url, secret: SECRET } });

/** Nothing found yet, rules as given, and a first look behind it. */
async function begin(...rules: NoticeRule[]): Promise<void> {
  for (const one of rules) await saveRule(records, one);
  await tick(records, nowMs, []);
  await notices.run();
}

async function later(ms: number): Promise<void> {
  nowMs += ms;
  await notices.run();
}

const states = async (): Promise<string[]> => (await records.notices()).map((one) => `${one.kind} ${one.state} ${one.attempts}`).reverse();

beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'lull-notices-'));
  records = await openStore();
  [mail, receiver] = await Promise.all([startMailServer(), startReceiver()]);
  nowMs = T0;
  notices = open();
});
afterEach(async () => {
  notices.close();
  await records.close();
  await Promise.all([mail.stop(), receiver.stop()]);
  await rm(folder, { recursive: true, force: true });
});

test('run() sends one mail for each finding and change of state, with a subject that says where, what and by when', async () => {
  await begin(rule({ changes: ['opened', 'acknowledged', 'closed'] }));
  await tick(records, T0 + 600_000, [finding('f1', 'quay-7/gen-1')]);
  await later(600_000);
  await later(1000);
  expect(mail.mails).toHaveLength(1);
  const [first] = mail.mails;
  expect(first).toMatchObject({ from: 'lull@invented.example', to: ['desk@invented.example'], user: 'lull' });
  const source = first!.source.replaceAll(/=\r\n/g, '');
  expect(source).toMatch(/^Subject: .*Quay_7_cold_store.*leak|^Subject: Quay 7 cold store, gen-1: leak/m);
  expect(source).toMatch(/^Auto-Submitted: auto-generated/mi);
  expect((await records.notices())[0]?.subject).toBe('Quay 7 cold store, gen-1: leak – can wait until 12 Dec');
  const { text } = (await records.notices())[0]!;
  for (const part of ['(harbour)', 'Found 24 Nov 2026, 03:22 (Europe/Lisbon).', 'very likely, 93 %', 'Because: Rests shrank from 45 min to 28 min.\n', 'Who: ', 'Bring: ', 'https://lull.invented.example/generators/quay-7/gen-1', 'Maintenance information only', 'the rule "Desk"']) expect(text).toContain(part);
  await act(records, 'f1', 'acknowledge', nowMs, { note: 'rang the site' });
  await act(records, 'f1', 'note', nowMs + 1, { note: 'nobody there' });
  await later(1000);
  await later(1000);
  await act(records, 'f1', 'close', nowMs, { reason: 'false' });
  await later(1000);
  expect((await records.notices()).map((one) => one.subject).reverse()).toEqual(['Quay 7 cold store, gen-1: leak – can wait until 12 Dec', 'Quay 7 cold store, gen-1: acknowledged (leak)', 'Quay 7 cold store, gen-1: closed, false finding (leak)']);
  expect(mail.mails).toHaveLength(3);
  expect(await states()).toEqual(['finding sent 1', 'finding sent 1', 'finding sent 1']);
});

test('work that is done is told as being checked, sends nobody out, and if it did not help the finding is open again', async () => {
  await begin(rule({ changes: ['opened', 'planned', 'acknowledged', 'verifying', 'reopened'] }));
  const shut = (state: Finding['state']): Finding => finding('f1', 'quay-7/gen-1', { cause: 'valve-left-shut', causes: [{ cause: 'valve-left-shut', probability: 0.9 }, { cause: 'undetermined', probability: 0.1 }], state });
  await tick(records, T0 + 600_000, [shut('new')]);
  await later(600_000);
  await act(records, 'f1', 'plan', nowMs, { by: 'Lead' });
  await later(1000);
  const endedAt = iso(nowMs + HOUR_MS);
  await records.saveEntry(entrySchema.parse({ id: 'e1', site: 'quay-7', generator: 'gen-1', startedAt: iso(nowMs), finishedAt: endedAt, recordedAt: endedAt }), 'Ana');
  await tick(records, T0 + 2 * HOUR_MS, [shut('verifying')]);
  await later(2 * HOUR_MS);
  await tick(records, T0 + 6 * HOUR_MS, [shut('new')]);
  await later(4 * HOUR_MS);
  const [again, checked, planned] = await records.notices();
  expect([again, checked, planned].map((one) => one?.items[0]?.change)).toEqual(['reopened', 'verifying', 'planned']);
  expect(planned?.text).toMatch(/, by Lead\.[\s\S]*Go at once/);
  expect(checked?.subject).toBe('Quay 7 cold store, gen-1: work done and being checked (valve left shut)');
  expect(checked?.text).toContain('The work is done and being checked');
  expect(checked?.text).not.toMatch(/[Gg]o at once|^Who: |^Bring: |by Lead/m);
  expect(again?.text).toMatch(/Open again[\s\S]*Go at once[\s\S]*Who: /);
  expect(again?.text).not.toContain('by Lead');
  expect(await records.notices()).toHaveLength(4);
});

test('a webhook is signed so that its receiver can check it, and repeats carry one id', async () => {
  await begin(rule(webhookTo()));
  receiver.answer = 503;
  await tick(records, T0 + 600_000, [finding('f1', 'quay-7/gen-1')]);
  await later(600_000);
  receiver.answer = 204;
  await later(HOUR_MS);
  expect(receiver.posts).toHaveLength(2);
  for (const { headers, body } of receiver.posts) {
    const [id, timestamp] = [String(headers['webhook-id']), Number(headers['webhook-timestamp'])];
    expect(headers['webhook-signature']).toBe(webhookSignature(SECRET, id, timestamp, body));
    expect(headers['content-type']).toBe('application/json');
  }
  const [first, second] = receiver.posts;
  expect(second!.headers['webhook-id']).toBe(first!.headers['webhook-id']);
  expect(Number(second!.headers['webhook-timestamp']) - Number(first!.headers['webhook-timestamp'])).toBe(3600);
  expect(second!.body).toBe(first!.body);
  expect(JSON.parse(first!.body)).toMatchObject({ type: 'finding.opened', timestamp: iso(T0 + 600_000), data: { simulated: false, subject: 'Quay 7 cold store, gen-1: leak – can wait until 12 Dec', items: [{ finding: 'f1', site: 'quay-7', generator: 'gen-1', change: 'opened', cause: 'leak', at: iso(T0 + 600_000), url: generatorUrl('quay-7', 'gen-1') }] } });
  expect(await states()).toEqual(['finding sent 2']);
});

test('what was found before the first start is no news, a restart tells nothing twice, and what waited goes after it', async () => {
  await saveRule(records, rule());
  await tick(records, nowMs, [finding('old', 'quay-7/gen-2')]);
  await notices.run();
  mail.refuse = 451;
  await tick(records, T0 + 600_000, [finding('old', 'quay-7/gen-2'), finding('f1', 'quay-7/gen-1')]);
  await later(600_000);
  expect(await states()).toEqual(['finding waiting 1']);
  expect((await records.notices())[0]?.lastError).toContain('451');
  notices.close();
  await records.close();
  records = await openStore();
  notices = open();
  mail.refuse = undefined;
  await later(10_000);
  expect(mail.mails).toHaveLength(0);
  await later(120_000);
  await later(HOUR_MS);
  expect(mail.mails).toHaveLength(1);
  expect(await states()).toEqual(['finding sent 2']);
});

test('a notice is given up visibly after the last attempt, or at once when the mailbox does not exist; a person sends it again', async () => {
  await begin(rule(), rule({ id: 'hook', name: 'Hook', ...webhookTo() }));
  mail.refuse = 550;
  receiver.answer = 500;
  await tick(records, T0 + 600_000, [finding('f1', 'quay-7/gen-1')]);
  await later(600_000);
  const byMail = (await records.notices()).find((one) => one.rule === 'desk')!;
  expect(byMail).toMatchObject({ state: 'given-up', attempts: 1 });
  for (let attempt = 0; attempt < 20; attempt += 1) await later(8 * HOUR_MS);
  expect(receiver.posts).toHaveLength(MOST_ATTEMPTS);
  expect((await records.notices()).find((one) => one.rule === 'hook')).toMatchObject({ state: 'given-up', attempts: MOST_ATTEMPTS, lastError: 'the receiver answered with 500' });
  mail.refuse = undefined;
  expect(await notices.retry(byMail.id)).toMatchObject({ state: 'waiting', attempts: 0 });
  expect(await notices.retry('nobody')).toBeUndefined();
  await later(1000);
  expect(mail.mails).toHaveLength(1);
  expect(await notices.retry(byMail.id)).toBeUndefined();
  receiver.answer = 410;
  await tick(records, nowMs, [finding('f2', 'quay-7/gen-1')]);
  await later(1000);
  expect((await records.notices()).find((one) => one.rule === 'hook')).toMatchObject({ state: 'given-up', attempts: 1 });
});

test('a finding that a person closed is told as closed, and as open again, though analysis reports it no more', async () => {
  await begin(rule({ changes: ['closed', 'reopened'] }));
  await tick(records, T0 + 600_000, [finding('f1', 'quay-7/gen-1')]);
  await later(600_000);
  await act(records, 'f1', 'close', nowMs, { reason: 'false' });
  await tick(records, T0 + 1_200_000, []);
  await later(600_000);
  await act(records, 'f1', 'reopen', nowMs);
  await tick(records, T0 + 1_800_000, []);
  await later(600_000);
  await later(600_000);
  expect((await records.notices()).map((one) => one.items[0]?.change).reverse()).toEqual(['closed', 'reopened']);
});

test('quiet hours hold all but the causes told at once, and what waited goes in one message', async () => {
  // 03:12 in Lisbon.
  await begin(rule({ changes: ['opened', 'closed'], quietHours: { from: '22:00', to: '07:00' }, atOnceCauses: ['not-starting'] }));
  const leak = finding('f1', 'quay-7/gen-1');
  await tick(records, T0 + 600_000, [leak, finding('f2', 'mill-2/gen-1', { cause: 'not-starting', causes: [{ cause: 'not-starting', probability: 0.99 }] })]);
  await later(600_000);
  expect((await records.notices()).filter((one) => one.state === 'sent').map((one) => one.subject)).toEqual(['mill-2, gen-1: not starting – go at once']);
  await act(records, 'f1', 'close', nowMs, { reason: 'false' });
  await later(HOUR_MS);
  expect(mail.mails).toHaveLength(1);
  await later(3 * HOUR_MS);
  expect(mail.mails).toHaveLength(2);
  expect((await records.notices()).find((one) => one.kind === 'bundle')).toMatchObject({ subject: 'Lull: 1 found, 1 closed', state: 'sent' });
  expect((await records.notices()).find((one) => one.kind === 'bundle')?.text).toContain('- Quay 7 cold store, gen-1: closed, false finding (leak)');
});

test('a digest goes once a day with all of that day, and a site that goes dark is one message', async () => {
  await begin(rule({ id: 'lead', name: 'Lead', when: 'digest', digestAt: '07:00' }), rule());
  const many = Array.from({ length: 9 }, (_, index) => finding(`f${index}`, `mill-2/gen-${index + 1}`, { cause: 'no-power' }));
  await tick(records, T0 + 600_000, many);
  await later(600_000);
  expect(mail.mails).toHaveLength(1);
  expect((await records.notices()).find((one) => one.state === 'sent')).toMatchObject({ rule: 'desk', kind: 'bundle', subject: 'Lull: 9 found' });
  await later(5 * HOUR_MS);
  expect(mail.mails).toHaveLength(2);
  expect((await records.notices()).find((one) => one.rule === 'lead' && one.kind === 'bundle')?.items).toHaveLength(9);
  await later(24 * HOUR_MS);
  expect(mail.mails).toHaveLength(2);
});

test('changes are held while a visit is under way or the generator is under test; then what is left is told', async () => {
  await begin(rule({ changes: ['opened', 'closed'] }));
  const visit = visitSchema.parse({ id: 'v1', site: 'quay-7', generators: ['gen-1'], state: 'under-way', updatedAt: iso(T0), updatedBy: 'Rui' });
  await records.saveVisit(visit);
  const passing = finding('passing', 'quay-7/gen-1', { cause: 'bleed-left-open' });
  const lasting = finding('lasting', 'quay-7/gen-1');
  const tested = finding('tested', 'quay-7/gen-2');
  const underTest = row('quay-7/gen-2', 'leak', { dataState: 'under-test' });
  const off = finding('off', 'mill-2/gen-1');
  const outOfService = row('mill-2/gen-1', 'leak', { dataState: 'out-of-service' });
  await tick(records, T0 + 600_000, [passing, lasting, tested, off], [row('quay-7/gen-1', 'leak'), underTest, outOfService]);
  await later(600_000);
  const over = { ...passing, state: 'closed', closedReason: 'superseded', closedAt: iso(nowMs) } as const;
  await tick(records, T0 + 1_200_000, [over, lasting, tested, off], [row('quay-7/gen-1', 'leak'), underTest, outOfService]);
  await later(600_000);
  expect(await records.notices()).toEqual([]);
  await records.saveVisit({ ...visit, state: 'recorded', revision: 1 });
  await later(5000);
  expect((await records.notices()).flatMap((one) => one.items.map((item) => item.finding))).toEqual(['lasting']);
  await tick(records, T0 + 1_800_000, [over, lasting, tested, off], [row('quay-7/gen-1', 'leak'), row('quay-7/gen-2', 'leak'), outOfService]);
  await later(600_000);
  expect((await records.notices()).flatMap((one) => one.items.map((item) => item.finding)).sort()).toEqual(['lasting', 'tested']);
});

test('a rule that is switched off or removed sends nothing more, and says so; without a mail server mail waits and says why', async () => {
  await begin(rule(), rule({ id: 'hook', name: 'Hook', ...webhookTo() }));
  notices.close();
  notices = openNotices({ records, clock: { nowMs: () => nowMs }, random: () => 0.5, log: SILENT_LOG, generator: generatorAt, words: noticeWords({ simulated: true, generatorUrl: () => null }), simulated: true, generatorUrl: () => null });
  receiver.answer = 500;
  await tick(records, T0 + 600_000, [finding('f1', 'quay-7/gen-1')]);
  await later(600_000);
  expect((await records.notices()).find((one) => one.rule === 'desk')).toMatchObject({ state: 'waiting', lastError: 'no mail server is configured (LULL_SMTP_URL)', subject: '[simulated] Quay 7 cold store, gen-1: leak – can wait until 12 Dec' });
  await removeRule(records, 'hook');
  await later(HOUR_MS);
  expect(receiver.posts).toHaveLength(1);
  expect((await records.notices()).find((one) => one.rule === 'hook')).toMatchObject({ state: 'dropped', lastError: 'its rule was removed or switched off' });
});

test('test() sends once, at once, and gives how it went', async () => {
  const hook = rule({ id: 'hook', name: 'Hook', ...webhookTo() });
  expect(await notices.test(rule())).toMatchObject({ kind: 'test', state: 'sent', subject: 'Lull: test of the rule "Desk"' });
  expect(mail.mails[0]?.source).toContain('This is a test.');
  receiver.answer = 302;
  expect(await notices.test(hook)).toMatchObject({ state: 'given-up', lastError: 'the receiver answered with 302' });
  expect(receiver.posts).toHaveLength(1);
  expect(JSON.parse(receiver.posts[0]!.body)).toMatchObject({ type: 'notice.test', data: { items: [] } });
  await receiver.stop();
  expect(await notices.test(hook)).toMatchObject({ state: 'given-up', lastError: expect.stringContaining('ECONNREFUSED') });
  await mail.stop();
  nowMs += 1;
  expect(await notices.test(rule())).toMatchObject({ state: 'given-up', lastError: expect.stringContaining('ECONNREFUSED') });
});

test('sendWebhook() gives up waiting for a receiver that takes the message and never answers', async () => {
  receiver.answer = 'hang';
  const message = { id: 'notice-1', subject: 's', text: 't', madeMs: T0, test: false, items: [] };
  expect(await sendWebhook({ url: receiver.url, secret: SECRET }, message, { clock: { nowMs: () => nowMs }, simulated: false, generatorUrl, timeoutMs: 200 })).toEqual({ sent: false, says: 'the receiver did not answer in time', forGood: false });
});

test('what a failing store could not keep is told once it keeps again', async () => {
  await begin(rule());
  let down = true;
  const saveNotices: RecordStore['saveNotices'] = (...given) => (down ? Promise.reject(new Error('the disk is full')) : records.saveNotices(...given));
  notices.close();
  notices = open({ records: { ...records, saveNotices } });
  await tick(records, T0 + 600_000, [finding('f1', 'quay-7/gen-1')]);
  await later(600_000);
  expect(await records.notices()).toEqual([]);
  down = false;
  await later(2000);
  await later(2000);
  expect(await states()).toEqual(['finding sent 1']);
  expect(mail.mails).toHaveLength(1);
});
