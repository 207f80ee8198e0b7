import { createHash } from 'node:crypto';
import { type Finding, type FindingAction, type RankingReport, withActions } from '../../shared/finding.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import type { Notice, NoticeChange, NoticeRule, NoticeSeen, NoticeWords } from '../../shared/notice.ts';
import { type RegisteredGenerator, unclaimedGenerator } from '../../shared/registry.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import type { Clock } from '../../shared/time.ts';
import { changeOf, type Seen, seenOf } from './finding-change.ts';
import { isUrgent, wants } from './match-rule.ts';
import { readRules } from './rules.ts';
import { whenToSend } from './when-to-send.ts';

export type WatchParams = { readonly records: RecordStore; readonly clock: Clock; readonly registry: () => readonly RegisteredGenerator[]; readonly words: NoticeWords };

/** More than this many changes at one look go to a rule as one message: a dark site must not fill a mailbox. Our choice. */
const MOST_SINGLE = 5;
const BEGUN = { scope: 'notices', name: 'begun' } as const;

/**
 * Look at what analysis wrote and people did, and put what changed into the outbox: one notice for each rule, finding and
 * change. What was looked at is kept in the same transaction, so that a restart tells nothing twice and misses nothing.
 */
export function watchFindings(params: WatchParams): { look(): Promise<void> } {
  const { records, clock } = params;
  let seen: Map<string, Seen> | undefined;
  const actions = new Map<string, FindingAction[]>();
  let actionsFromMs = 0;
  let report: RankingReport | undefined;
  let lookedAt = '';

  /** True if anything moved since the last look; else a look costs three small questions. */
  async function moved(held: ReadonlySet<string>): Promise<boolean> {
    const fresh = (await records.actions(actionsFromMs > 0 ? { fromMs: actionsFromMs } : {})).filter((one) => !(actions.get(one.finding) ?? []).some((known) => JSON.stringify(known) === JSON.stringify(one)));
    for (const one of fresh) {
      actions.set(one.finding, [...(actions.get(one.finding) ?? []), one]);
      actionsFromMs = Math.max(actionsFromMs, one.atMs);
    }
    const nowMs = clock.nowMs();
    const shelves = [...actions.values()].flat().filter((one) => one.untilMs !== undefined && one.untilMs <= nowMs).length;
    const mark = `${await records.lastTickMs()} ${shelves} ${[...held].sort().join(',')}`;
    if (fresh.length === 0 && mark === lookedAt) return false;
    lookedAt = mark;
    report = await records.report();
    return report !== undefined;
  }

  async function begin(): Promise<Map<string, Seen>> {
    const known = new Map([...(await records.noticesSeen())].map(([finding, text]) => [finding, JSON.parse(text) as Seen]));
    if ((await records.savedSettings(BEGUN.scope)).has(BEGUN.name)) return known;
    // What there was before notices were, is no news.
    const marks: NoticeSeen[] = [];
    for (const finding of (await records.report())?.findings ?? []) {
      const now = seenOf(withActions(finding, await records.actions({ finding: finding.id }), clock.nowMs()));
      known.set(finding.id, now);
      marks.push({ finding: finding.id, seen: JSON.stringify(now) });
    }
    await records.saveNotices([], marks);
    await records.saveSetting(BEGUN.scope, BEGUN.name, new Date(clock.nowMs()).toISOString());
    return known;
  }

  return {
    async look() {
      seen ??= await begin();
      const held = await heldGenerators(records);
      if (!(await moved(held)) || report === undefined) return;
      for (const row of report.ranking) if (row.dataState === 'under-test') held.add(`${row.site}/${row.generator}`);
      const nowMs = clock.nowMs();
      const changed: Changed[] = [];
      for (const written of report.findings) {
        const finding = withActions(written, actions.get(written.id) ?? [], nowMs);
        const before = seen.get(finding.id);
        if (held.has(`${finding.site}/${finding.generator}`)) continue;
        if (before !== undefined && JSON.stringify(before) === JSON.stringify(seenOf(finding))) continue;
        changed.push({ finding, before, change: changeOf(before, finding), action: actions.get(finding.id)?.findLast((one) => one.action !== 'note') ?? null });
      }
      if (changed.length === 0) return;
      const notices = noticesOf(changed, await readRules(records), report, params, nowMs);
      await records.saveNotices(notices, changed.map(({ finding }) => ({ finding: finding.id, seen: JSON.stringify(seenOf(finding)) })));
      for (const { finding } of changed) seen.set(finding.id, seenOf(finding));
    },
  };
}

type Changed = { readonly finding: Finding; readonly before: Seen | undefined; readonly change: NoticeChange | undefined; readonly action: FindingAction | null };

/** Generators at which a visit is under way: what is found meanwhile is the visit's own doing until it ends. */
async function heldGenerators(records: RecordStore): Promise<Set<string>> {
  const visits = await records.visits({ states: ['under-way'] });
  return new Set(visits.flatMap((visit) => visit.generators.map((generator) => `${visit.site}/${generator}`)));
}

function noticesOf(changed: readonly Changed[], rules: readonly NoticeRule[], report: RankingReport, params: WatchParams, nowMs: number): Notice[] {
  const registered = new Map(params.registry().map((one) => [one.key as string, one]));
  const rows = new Map(report.ranking.map((row) => [`${row.site}/${row.generator}`, row]));
  return rules.flatMap((rule) => {
    const made = changed.flatMap(({ finding, before, change, action }): Notice[] => {
      const key = `${finding.site}/${finding.generator}`;
      const known = registered.get(key) ?? unclaimedGenerator(key as GeneratorKey);
      if (change === undefined || !wants(rule, change, finding, known.site.area)) return [];
      const causeBefore = change === 'cause-changed' ? (before?.cause ?? null) : null;
      const message = params.words.one({ ruleName: rule.name, change, finding, causeBefore, registered: known, row: rows.get(key) ?? null, action, nowMs });
      return [{
        id: `notice-${createHash('sha256').update(`${rule.id} ${finding.id} ${change} ${nowMs}`).digest('hex').slice(0, 24)}`, rule: rule.id, ruleName: rule.name, kind: 'finding', to: placeOf(rule.to), ...message,
        items: [{ finding: finding.id, site: finding.site, generator: finding.generator, change, cause: finding.cause, atMs: nowMs }],
        ...whenToSend(rule, nowMs, isUrgent(rule, finding)), madeMs: nowMs, attempts: 0, state: 'waiting', lastError: null, sentMs: null,
      }];
    });
    return made.length > MOST_SINGLE ? made.map((one) => ({ ...one, mayBundle: true })) : made;
  });
}

/** Where a rule sends to, as people read it. */
export function placeOf(to: NoticeRule['to']): string {
  return to.kind === 'email' ? to.address : to.url;
}
