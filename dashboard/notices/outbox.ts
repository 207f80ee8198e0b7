import { createHash } from 'node:crypto';
import type { Log } from '../../shared/log.ts';
import type { Notice, NoticeRule, NoticeWords } from '../../shared/notice.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import type { Clock } from '../../shared/time.ts';
import { MOST_ATTEMPTS, retryAfterMs } from './retry-after.ts';
import { readRules } from './rules.ts';
import type { Sender } from './sender.ts';
import { placeOf } from './watch-findings.ts';

export type OutboxParams = { readonly records: RecordStore; readonly clock: Clock; readonly random: () => number; readonly log: Log; readonly words: NoticeWords; readonly send: Sender };

/** Rules that are served at the same time; within one, message after message. */
const RULES_AT_ONCE = 4;

export type Outbox = {
  /** Send what is due; a failure is tried again later, then given up. One run at a time. */
  deliver(): Promise<void>;
  /** Send a test now, once; gives how it went. */
  test(rule: NoticeRule): Promise<Notice>;
  /** Put a notice that was given up back among those that wait. `undefined` if there is none such. */
  retry(id: string): Promise<Notice | undefined>;
};

/** Send what waits in the record store. A notice that was sent and not yet marked as such when the power failed is sent again, under the same id. */
export function openOutbox(params: OutboxParams): Outbox {
  const { records, clock, log } = params;
  let running: Promise<void> | undefined;

  async function sendOne(rule: NoticeRule, notice: Notice): Promise<Notice> {
    const result = await params.send(rule.to, { id: notice.id, subject: notice.subject, text: notice.text, madeMs: notice.madeMs, test: notice.kind === 'test', items: notice.items });
    const done = after(notice, result, clock.nowMs(), params.random);
    await records.saveNotices([done]);
    if (done.state === 'given-up') log.error(`a notice was given up after ${done.attempts} attempts: ${done.lastError ?? ''}`, { rule: rule.id, to: done.to });
    return done;
  }

  /** True while nothing failed: after a failure the rest of this rule waits for the next run. */
  async function serve(rule: NoticeRule, due: readonly Notice[]): Promise<void> {
    for (const notice of await bundled(rule, due)) if ((await sendOne(rule, notice)).state !== 'sent') return;
  }

  /** Of those that may go together, one message; its parts are marked in the same transaction. */
  async function bundled(rule: NoticeRule, due: readonly Notice[]): Promise<readonly Notice[]> {
    const parts = due.filter((one) => one.mayBundle && one.kind === 'finding' && one.attempts === 0);
    if (parts.length < 2) return due;
    const nowMs = clock.nowMs();
    const id = `notice-${createHash('sha256').update(parts.map((one) => one.id).join(' ')).digest('hex').slice(0, 24)}`;
    const bundle: Notice = {
      id, rule: rule.id, ruleName: rule.name, kind: 'bundle', to: placeOf(rule.to), ...params.words.bundle(parts), items: parts.flatMap((one) => one.items),
      mayBundle: false, madeMs: nowMs, notBeforeMs: nowMs, attempts: 0, state: 'waiting', lastError: null, sentMs: null,
    };
    await records.saveNotices([bundle, ...parts.map((one): Notice => ({ ...one, state: 'bundled' }))]);
    return [...due.filter((one) => !parts.includes(one)), bundle];
  }

  async function run(): Promise<void> {
    const nowMs = clock.nowMs();
    const due = (await records.notices({ waiting: true })).filter((one) => one.notBeforeMs <= nowMs);
    if (due.length === 0) return;
    const rules = new Map((await readRules(records)).map((rule) => [rule.id, rule]));
    const orphans = due.filter((one) => rules.get(one.rule)?.enabled !== true);
    if (orphans.length > 0) await records.saveNotices(orphans.map((one): Notice => ({ ...one, state: 'dropped', lastError: 'its rule was removed or switched off' })));
    const queue = [...rules.values()].filter((rule) => rule.enabled).map((rule) => ({ rule, due: due.filter((one) => one.rule === rule.id) })).filter((one) => one.due.length > 0);
    const work = async (): Promise<void> => {
      for (let next = queue.shift(); next !== undefined; next = queue.shift()) await serve(next.rule, next.due);
    };
    await Promise.all(Array.from({ length: RULES_AT_ONCE }, work));
  }

  return {
    deliver: () =>
      (running ??= run().finally(() => {
        running = undefined;
      })),
    async test(rule) {
      const nowMs = clock.nowMs();
      const id = `notice-test-${createHash('sha256').update(`${rule.id} ${nowMs}`).digest('hex').slice(0, 24)}`;
      // It is kept only when it went or failed: a test that a restart sends an hour later would puzzle people.
      const notice: Notice = { id, rule: rule.id, ruleName: rule.name, kind: 'test', to: placeOf(rule.to), ...params.words.test(rule.name), items: [], mayBundle: false, madeMs: nowMs, notBeforeMs: nowMs, attempts: MOST_ATTEMPTS - 1, state: 'waiting', lastError: null, sentMs: null };
      return sendOne(rule, notice);
    },
    async retry(id) {
      const [notice] = await records.notices({ id });
      if (notice === undefined || notice.state !== 'given-up' || notice.kind === 'test') return undefined;
      const again: Notice = { ...notice, state: 'waiting', attempts: 0, notBeforeMs: clock.nowMs() };
      await records.saveNotices([again]);
      return again;
    },
  };
}

function after(notice: Notice, result: Awaited<ReturnType<Sender>>, nowMs: number, random: () => number): Notice {
  const attempts = notice.attempts + 1;
  if (result.sent) return { ...notice, attempts, state: 'sent', lastError: null, sentMs: nowMs };
  if (result.forGood || attempts >= MOST_ATTEMPTS) return { ...notice, attempts, state: 'given-up', lastError: result.says };
  return { ...notice, attempts, lastError: result.says, notBeforeMs: nowMs + retryAfterMs(attempts, random) };
}
