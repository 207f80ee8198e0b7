import { createHash } from 'node:crypto';
import { type Finding, type FindingAction, type RankingReport, withActions } from '../../shared/finding.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { lastServices, SERVED_WITHIN_MS } from '../../shared/last-service.ts';
import type { Notice, NoticeChange, NoticeRule, NoticeSeen, NoticeWords } from '../../shared/notice.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import type { Clock } from '../../shared/time.ts';
import { changeOf, type Seen, seenOf } from './finding-change.ts';
import { isUrgent, wants } from './match-rule.ts';
import { readRules } from './rules.ts';
import { whenToSend } from './when-to-send.ts';

export type WatchParams = { readonly records: RecordStore; readonly clock: Clock; /** Also for one that is in no registry: with its site, where that is known. */ readonly generator: (key: GeneratorKey) => RegisteredGenerator; readonly words: NoticeWords };

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
  /** Findings that people acted on and that were not looked at yet. */
  const acted = new Set<string>();

  /** What to remember as looked at, if anything moved since the last look; else a look costs three small questions. */
  async function moved(held: ReadonlySet<string>): Promise<string | undefined> {
    const fresh = (await records.actions(actionsFromMs > 0 ? { fromMs: actionsFromMs } : {})).filter((one) => !(actions.get(one.finding) ?? []).some((known) => JSON.stringify(known) === JSON.stringify(one)));
    for (const one of fresh) {
      actions.set(one.finding, [...(actions.get(one.finding) ?? []), one]);
      actionsFromMs = Math.max(actionsFromMs, one.atMs);
      acted.add(one.finding);
    }
    const nowMs = clock.nowMs();
    const shelves = [...actions.values()].flat().filter((one) => one.untilMs !== undefined && one.untilMs <= nowMs).length;
    const mark = `${await records.lastTickMs()} ${shelves} ${[...held].sort().join(',')}`;
    return fresh.length === 0 && mark === lookedAt ? undefined : mark;
  }

  /** What analysis reports, and what it reports no more (a finding that a person closed) but was not seen to end, or was acted on. */
  async function findingsToLookAt(known: ReadonlyMap<string, Seen>): Promise<readonly Finding[]> {
    const reported = report?.findings ?? [];
    const there = new Set(reported.map((one) => one.id));
    const open = [...known].filter(([, one]) => one.state !== 'closed').map(([id]) => id);
    const gone = [...new Set([...acted, ...open])].filter((id) => !there.has(id));
    const found = await Promise.all(gone.map((id) => records.finding(id)));
    return [...reported, ...found.filter((one) => one !== undefined)];
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
      const mark = await moved(held);
      if (mark === undefined) return;
      // Until all of it is kept, a failure of the store leaves it to be looked at again.
      lookedAt = '';
      report = await records.report();
      if (report === undefined) return;
      for (const row of report.ranking) if (row.dataState === 'under-test' || row.dataState === 'out-of-service') held.add(`${row.site}/${row.generator}`);
      const nowMs = clock.nowMs();
      const changed: Changed[] = [];
      const looked: string[] = [];
      const served = lastServices(await records.entries({ recordedFromMs: nowMs - SERVED_WITHIN_MS }), nowMs);
      for (const written of await findingsToLookAt(seen)) {
        const finding = withActions(written, actions.get(written.id) ?? [], nowMs, served.get(`${written.site}/${written.generator}` as GeneratorKey)?.recordedMs);
        const before = seen.get(finding.id);
        if (held.has(`${finding.site}/${finding.generator}`)) continue;
        looked.push(finding.id);
        if (before !== undefined && JSON.stringify(before) === JSON.stringify(seenOf(finding))) continue;
        changed.push({ finding, before, change: changeOf(before, finding), action: actions.get(finding.id)?.findLast((one) => one.action !== 'note') ?? null });
      }
      const notices = changed.length === 0 ? [] : noticesOf(changed, await readRules(records), report, params, nowMs);
      if (changed.length > 0) await records.saveNotices(notices, changed.map(({ finding }) => ({ finding: finding.id, seen: JSON.stringify(seenOf(finding)) })));
      for (const { finding } of changed) seen.set(finding.id, seenOf(finding));
      for (const id of looked) acted.delete(id);
      lookedAt = mark;
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
  const rows = new Map(report.ranking.map((row) => [`${row.site}/${row.generator}`, row]));
  return rules.flatMap((rule) => {
    const made = changed.flatMap(({ finding, before, change, action }): Notice[] => {
      const key = `${finding.site}/${finding.generator}`;
      const known = params.generator(key as GeneratorKey);
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
