import type { Cycle, DayRow } from '../cycle.ts';
import type { Entry } from '../entry.ts';
import { StoreError } from '../errors.ts';
import type { Finding, FindingAction, RankingReport } from '../finding.ts';
import type { GeneratorKey } from '../ids.ts';
import { answeredJob, type Job, JOB_KEPT_MS } from '../job.ts';
import type { PresenceEvent } from '../log-event.ts';
import type { Notice } from '../notice.ts';
import type { QuarantineItem, QuarantineReason } from '../quarantine.ts';
import type { RegistryChange } from '../registry.ts';
import type { GeneratorReview, Verification } from '../review.ts';
import type { Visit } from '../visit.ts';
import { CHECKPOINTS_KEPT, cleared, DEFAULT_LIMIT, type DirtyMark, inOrderOfVisits, marked, QUARANTINE_ROOM, type QuarantineRoom } from './record-limits.ts';
import type { AnalysisResult, AuditLine, Checkpoint, HotState, QuarantineQuery, RecordStore } from './record-store.ts';
import { issuedRecords } from './memory-issued.ts';
import { byPlan, isVisitAsked, nextRevision } from './visit-order.ts';

type State = {
  closed: boolean;
  registry: RegistryChange[];
  entries: Map<string, Entry>;
  findings: Map<string, Finding>;
  actions: FindingAction[];
  days: Map<GeneratorKey, Map<number, DayRow>>;
  cycles: Map<GeneratorKey, Map<number, Cycle>>;
  checkpoints: Map<GeneratorKey, Map<number, Checkpoint>>;
  hotStates: Map<GeneratorKey, HotState>;
  report: RankingReport | undefined;
  lastTickMs: number;
  reviews: Map<GeneratorKey, GeneratorReview>;
  verifications: Map<GeneratorKey, Map<string, Verification>>;
  jobs: Map<string, Job>;
  dirty: Map<GeneratorKey, DirtyMark>;
  quarantine: QuarantineItem[];
  nextQuarantineId: number;
  presence: PresenceEvent[];
  settings: Map<string, Map<string, string>>;
  audit: AuditLine[];
  notices: Map<string, Notice>;
  noticesSeen: Map<string, string>;
  visits: Map<string, Visit[]>;
};

/** Records in memory: for tests, replay and what-ifs. Nothing survives `close()`; values are kept as they are, not copied. */
export function openMemoryRecords(settings: { readonly quarantineRoom?: QuarantineRoom } = {}): RecordStore {
  const state: State = {
    closed: false, registry: [], entries: new Map(), findings: new Map(), actions: [], days: new Map(), cycles: new Map(), checkpoints: new Map(), hotStates: new Map(),
    report: undefined, lastTickMs: 0, reviews: new Map(), verifications: new Map(), jobs: new Map(), dirty: new Map(), quarantine: [], nextQuarantineId: 1, presence: [], settings: new Map(), audit: [], notices: new Map(), noticesSeen: new Map(), visits: new Map(),
  };
  const guarded = async <T>(work: (state: State) => T): Promise<T> => {
    if (state.closed) throw new StoreError('The record store is closed');
    return work(state);
  };
  return {
    ...people(guarded),
    ...noticeRecords(guarded),
    ...visits(guarded),
    ...issuedRecords(guarded),
    ...analysis(guarded),
    ...jobs(guarded),
    ...ingest(guarded, settings.quarantineRoom ?? QUARANTINE_ROOM),
    sizeBytes: () => guarded(() => 0),
    async close() {
      state.closed = true;
    },
  };
}

type Guarded = <T>(work: (state: State) => T) => Promise<T>;

function people(guarded: Guarded): Pick<RecordStore, 'registryChanges' | 'recordRegistryChange' | 'saveEntry' | 'entries' | 'recordAction' | 'actions' | 'savedSettings' | 'saveSetting' | 'audit' | 'auditLines'> {
  return {
    registryChanges: (sinceRecordedMs = 0) => guarded(({ registry }) => sortedBy(registry.filter((change) => change.recordedAtMs >= sinceRecordedMs), (change) => change.recordedAtMs)),
    recordRegistryChange: (change) => guarded(({ registry }) => void registry.push(change)),
    saveEntry: (entry) => guarded(({ entries }) => void entries.set(entry.id, entry)),
    entries: (query = {}) =>
      guarded(({ entries }) => {
        const found = [...entries.values()].filter((entry) => Date.parse(entry.recordedAt) >= (query.recordedFromMs ?? 0) && (query.generator === undefined || `${entry.site}/${entry.generator}` === query.generator));
        return found.sort((a, b) => Date.parse(a.recordedAt) - Date.parse(b.recordedAt) || (a.id < b.id ? -1 : 1));
      }),
    recordAction: (action) => guarded(({ actions }) => void actions.push(action)),
    actions: (query = {}) => guarded(({ actions }) => sortedBy(actions.filter((action) => action.atMs >= (query.fromMs ?? 0) && (query.finding === undefined || action.finding === query.finding)), (action) => action.atMs)),
    savedSettings: (scope) => guarded(({ settings }) => new Map([...(settings.get(scope) ?? [])].sort(([a], [b]) => (a < b ? -1 : 1)))),
    saveSetting: (scope, name, value) => guarded(({ settings }) => void of(settings, scope).set(name, value)),
    audit: (line) => guarded(({ audit }) => void audit.push(line)),
    auditLines: (limit = DEFAULT_LIMIT) => guarded(({ audit }) => audit.slice(-limit).reverse()),
  };
}

function visits(guarded: Guarded): Pick<RecordStore, 'saveVisit' | 'visits' | 'visit' | 'visitRevisions'> {
  return {
    saveVisit: (visit) =>
      guarded((state) => {
        const revisions = state.visits.get(visit.id) ?? [];
        const next = nextRevision(revisions.at(-1), visit);
        if (!('keep' in next)) return next;
        state.visits.set(visit.id, [...revisions, next.keep]);
        return { saved: next.keep };
      }),
    visits: (query = {}) => guarded((state) => [...state.visits.values()].flatMap((revisions) => revisions.slice(-1)).filter((visit) => isVisitAsked(visit, query)).sort(byPlan)),
    visit: (id) => guarded((state) => state.visits.get(id)?.at(-1)),
    visitRevisions: (id) => guarded((state) => state.visits.get(id) ?? []),
  };
}

function noticeRecords(guarded: Guarded): Pick<RecordStore, 'saveNotices' | 'notices' | 'noticesSeen'> {
  return {
    saveNotices: (saved, seen = []) =>
      guarded(({ notices, noticesSeen }) => {
        for (const notice of saved) notices.set(notice.id, notice);
        for (const one of seen) noticesSeen.set(one.finding, one.seen);
      }),
    notices: ({ waiting, id, limit } = {}) =>
      guarded(({ notices }) => {
        const found = sortedBy([...notices.values()].filter((one) => (waiting === undefined || one.state === 'waiting') && (id === undefined || one.id === id)), (one) => one.madeMs);
        return (waiting === undefined ? found.reverse() : found).slice(0, limit);
      }),
    noticesSeen: () => guarded(({ noticesSeen }) => new Map(noticesSeen)),
  };
}

function analysis(guarded: Guarded): Pick<RecordStore, 'saveAnalysis' | 'findings' | 'finding' | 'days' | 'recentDays' | 'cycles' | 'report' | 'checkpointBefore' | 'hotStates' | 'lastTickMs' | 'review' | 'verifications'> {
  return {
    saveAnalysis: (result) => guarded((state) => saveAnalysis(state, result)),
    findings: (query = {}) =>
      guarded(({ findings }) => {
        const found = [...findings.values()].filter((one) => (query.generator === undefined || `${one.site}/${one.generator}` === query.generator) && (query.open === undefined || (one.closedAt === null) === query.open));
        return found.sort((a, b) => Date.parse(b.openedAt) - Date.parse(a.openedAt) || (a.id < b.id ? -1 : 1)).slice(0, query.limit);
      }),
    finding: (id) => guarded(({ findings }) => findings.get(id)),
    days: (query) => guarded(({ days }) => between(days.get(query.generator), query.fromMs, query.toMs)),
    recentDays: (count) => guarded(({ days }) => [...days].sort(([a], [b]) => (a < b ? -1 : 1)).flatMap(([, ofOne]) => between(ofOne).slice(-count))),
    cycles: (query) => guarded(({ cycles }) => between(cycles.get(query.generator), query.fromMs, query.toMs).slice(0, query.limit)),
    report: () => guarded(({ report }) => report),
    checkpointBefore: (generator, deviceMs) => guarded(({ checkpoints }) => between(checkpoints.get(generator), -Infinity, deviceMs).at(-1)),
    hotStates: () => guarded(({ hotStates }) => [...hotStates.values()].sort((a, b) => (a.generator < b.generator ? -1 : 1))),
    lastTickMs: () => guarded(({ lastTickMs }) => lastTickMs),
    review: (generator) => guarded(({ reviews }) => reviews.get(generator)),
    verifications: (generator) => guarded(({ verifications }) => [...(verifications.get(generator)?.values() ?? [])].sort(inOrderOfVisits)),
  };
}

function jobs(guarded: Guarded): Pick<RecordStore, 'postJob' | 'openJobs' | 'answerJob' | 'job'> {
  return {
    postJob: (job) =>
      guarded((state) => {
        for (const [id, old] of state.jobs) if (old.postedAtMs < job.postedAtMs - JOB_KEPT_MS) state.jobs.delete(id);
        if (!state.jobs.has(job.id)) state.jobs.set(job.id, job);
      }),
    openJobs: () => guarded((state) => [...state.jobs.values()].filter((job) => job.answeredAtMs === null).sort((a, b) => a.postedAtMs - b.postedAtMs || (a.id < b.id ? -1 : 1))),
    answerJob: (id, given) =>
      guarded((state) => {
        const job = state.jobs.get(id);
        if (job !== undefined && job.answeredAtMs === null) state.jobs.set(id, answeredJob(job, given));
      }),
    job: (id) => guarded((state) => state.jobs.get(id)),
  };
}

function saveAnalysis(state: State, result: AnalysisResult): void {
  for (const { generator, fromMs } of result.replaced) {
    for (const byTime of [of(state.days, generator), of(state.cycles, generator)]) for (const startMs of byTime.keys()) if (startMs >= fromMs) byTime.delete(startMs);
    const states = of(state.checkpoints, generator);
    for (const frontierMs of states.keys()) if (frontierMs > fromMs) states.delete(frontierMs);
  }
  for (const day of result.days) of(state.days, day.generator).set(day.startMs, day);
  for (const cycle of result.cycles) of(state.cycles, cycle.generator).set(cycle.startMs, cycle);
  for (const finding of result.findings) state.findings.set(finding.id, finding);
  for (const checkpoint of result.checkpoints) {
    const kept = of(state.checkpoints, checkpoint.generator).set(checkpoint.frontierMs, checkpoint);
    if (kept.size > CHECKPOINTS_KEPT) kept.delete(Math.min(...kept.keys()));
  }
  for (const hot of result.hotStates) state.hotStates.set(hot.generator, hot);
  for (const review of result.reviews ?? []) state.reviews.set(review.generator, review);
  for (const one of result.verifications ?? []) of(state.verifications, one.generator).set(`${one.visit} ${one.look}`, one);
  state.report = result.report ?? state.report;
  state.lastTickMs = result.tickMs;
}

function ingest(guarded: Guarded, room: QuarantineRoom): Pick<RecordStore, 'markDirty' | 'dirty' | 'clearDirty' | 'quarantine' | 'quarantined' | 'quarantineCounts' | 'markReleased' | 'trimQuarantine' | 'savePresence' | 'presence' | 'presenceSince'> {
  return {
    markDirty: (generators, receivedMs) => guarded(({ dirty }) => generators.forEach((generator) => dirty.set(generator, marked(dirty.get(generator), receivedMs)))),
    dirty: () => guarded(({ dirty }) => [...dirty].map(([generator, mark]) => ({ generator, receivedMs: mark.receivedMs })).sort((a, b) => (a.generator < b.generator ? -1 : 1))),
    clearDirty: (generators, beforeMs) =>
      guarded(({ dirty }) => {
        for (const generator of generators) {
          const mark = dirty.get(generator);
          const left = mark === undefined ? undefined : cleared(mark, beforeMs);
          if (left === undefined) dirty.delete(generator);
          else dirty.set(generator, left);
        }
      }),
    quarantine: (items) =>
      guarded((state) => {
        for (const item of items) state.quarantine.push({ ...item, id: state.nextQuarantineId++ });
      }),
    quarantined: (query = {}) => guarded(({ quarantine }) => quarantine.filter((item) => isAsked(item, query)).slice(0, query.limit ?? DEFAULT_LIMIT)),
    quarantineCounts: () => guarded(({ quarantine }) => countsOf(quarantine)),
    markReleased: (ids, atMs) =>
      guarded((state) => {
        const wanted = new Set(ids);
        state.quarantine = state.quarantine.map((item) => (wanted.has(item.id) && item.releasedMs === null ? { ...item, releasedMs: atMs } : item));
      }),
    trimQuarantine: (nowMs) => guarded((state) => trim(state, nowMs, room)),
    savePresence: (event) => guarded(({ presence }) => void presence.push(event)),
    presence: () =>
      guarded(({ presence }) => {
        const newest = new Map(sortedBy(presence, (event) => event.atMs).map((event) => [`${event.site}/${event.gateway}`, event]));
        return [...newest].sort(([a], [b]) => (a < b ? -1 : 1)).map(([, event]) => event);
      }),
    presenceSince: (fromMs) => guarded(({ presence }) => sortedBy(presence.filter((event) => event.atMs >= fromMs), (event) => event.atMs)),
  };
}

function isAsked(item: QuarantineItem, query: QuarantineQuery): boolean {
  return item.id > (query.afterId ?? 0) && (query.reason === undefined || item.reason === query.reason) && (query.generator === undefined || (item.generator ?? '') === query.generator) && (query.released === undefined || (item.releasedMs !== null) === query.released);
}

function countsOf(items: readonly QuarantineItem[]): { generator: string; reason: QuarantineReason; count: number; lastMs: number }[] {
  const counts = new Map<string, { generator: string; reason: QuarantineReason; count: number; lastMs: number }>();
  for (const item of items) {
    if (item.releasedMs !== null) continue;
    const generator = item.generator ?? '';
    const known = counts.get(`${generator} ${item.reason}`) ?? { generator, reason: item.reason, count: 0, lastMs: 0 };
    counts.set(`${generator} ${item.reason}`, { ...known, count: known.count + 1, lastMs: Math.max(known.lastMs, item.receivedMs) });
  }
  return [...counts].sort(([a], [b]) => (a < b ? -1 : 1)).map(([, count]) => count);
}

function trim(state: State, nowMs: number, room: QuarantineRoom): number {
  const before = state.quarantine.length;
  let total = 0;
  const newestFirst = state.quarantine.filter((item) => item.receivedMs >= nowMs - room.keepMs).sort((a, b) => b.receivedMs - a.receivedMs || b.id - a.id);
  state.quarantine = newestFirst.filter((item) => (total += Buffer.byteLength(item.payload)) <= room.maxBytes).sort((a, b) => a.id - b.id);
  return before - state.quarantine.length;
}

function of<K, L, V>(map: Map<K, Map<L, V>>, key: K): Map<L, V> {
  const known = map.get(key) ?? new Map<L, V>();
  map.set(key, known);
  return known;
}

/** Those that start in [fromMs, toMs), in order of time. */
function between<T>(byTime: ReadonlyMap<number, T> | undefined, fromMs = -Infinity, toMs = Infinity): T[] {
  return [...(byTime ?? [])].filter(([startMs]) => startMs >= fromMs && startMs < toMs).sort(([a], [b]) => a - b).map(([, value]) => value);
}

/** In order of time; those of one time stay in the order in which they came. */
function sortedBy<T>(items: readonly T[], time: (item: T) => number): T[] {
  return [...items].sort((a, b) => time(a) - time(b));
}
