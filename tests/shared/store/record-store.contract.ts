import * as fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Cycle, DayRow } from '../../../shared/cycle.ts';
import { type Entry, entrySchema } from '../../../shared/entry.ts';
import { StoreError } from '../../../shared/errors.ts';
import type { Finding, RankingReport } from '../../../shared/finding.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import type { Notice } from '../../../shared/notice.ts';
import type { Job } from '../../../shared/job.ts';
import type { IssuedRecord, VisitPhoto } from '../../../shared/issued-record.ts';
import type { QuarantineItem } from '../../../shared/quarantine.ts';
import { siteSchema } from '../../../shared/registry.ts';
import type { GeneratorReview, Verification } from '../../../shared/review.ts';
import type { QuarantineRoom } from '../../../shared/store/record-limits.ts';
import type { AnalysisResult, Checkpoint, RecordQuery, RecordStore, VisitQuery } from '../../../shared/store/record-store.ts';
import { type Visit, visitSchema } from '../../../shared/visit.ts';
import { DAY_MS, HOUR_MS, isoFromMs, MINUTE_MS, TICK_MS } from '../../../shared/time.ts';

/** A store to be held to the contract, empty when opened, whose quarantine has the room asked for. */
export type OpenedRecords = {
  readonly store: RecordStore;
  /** Another connection to the same records; left out where there can be none. */
  readonly another?: () => Promise<RecordStore>;
  readonly reopen?: () => Promise<RecordStore>;
  readonly clean: () => Promise<void>;
};

const PIER = 'pier-2/gen-1' as GeneratorKey;
const QUAY = 'quay-7/gen-1' as GeneratorKey;
const T0 = Date.UTC(2026, 1, 27);
const ROOM: QuarantineRoom = { keepMs: 90 * DAY_MS, maxBytes: 1000 };
const SIDE = { days: 0, dutyRatio: null, meanRunMin: null, meanRestMin: null, demand: null, delivery: null, unit: 'relative', elementDropKPa: null, nitrogen: null } as const;
const everything = { fromMs: 0, toMs: Infinity } as const;

export function dayRow(generator: GeneratorKey, index: number, more: Partial<DayRow> = {}): DayRow {
  const estimate = { value: 1 / 3, se: 0.01 };
  const startMs = T0 + index * DAY_MS;
  return {
    generator, day: isoFromMs(startMs).slice(0, 10), startMs, endMs: startMs + DAY_MS, provisional: false, source: 'running', coveredS: 86_400, runS: 8000.5, restS: 78_399.5, starts: 20, dutyRatio: 0.0926, unit: 'NL/min',
    demand: estimate, delivery: estimate, longestRunS: 400, longestRestS: 4000, cutInKPa: 550.1, cutOutKPa: null, nitrogen: null, dischargeKPa: null, feedKPa: null, elementDropKPa: estimate, systemKPa: null,
    roomC: 20.5, pipeC: null, humidityPercent: null, holdingRatio: 1, heard: { running: 300, 'tank-pressure': 288 }, ...more,
  };
}

export function cycle(generator: GeneratorKey, index: number, more: Partial<Cycle> = {}): Cycle {
  return { generator, startMs: T0 + index * HOUR_MS, runS: 400.25, restS: 3000, source: 'running', cut: false, fallKPaPerMin: 3.3, riseKPaPerMin: null, startKPa: 550.5, stopKPa: 700, ...more };
}

function finding(id: string, generator: GeneratorKey, openedMs: number, more: Partial<Finding> = {}): Finding {
  const [site = '', name = ''] = generator.split('/');
  return {
    id, site, generator: name, openedAt: isoFromMs(openedMs), onset: { earliest: null, likely: isoFromMs(openedMs - DAY_MS), latest: null }, cause: 'leak', causes: [{ cause: 'leak', probability: 0.9 }, { cause: 'undetermined', probability: 0.1 }],
    among: null, missingChannels: ['feed-pressure'], alongside: [], history: [], evidence: [{ says: 'rests grew shorter, runs did not', for: 'leak', weight: 3.1 }], settings: 'abc', state: 'new', shelvedUntil: null, closedAt: null, closedReason: null, ...more,
  };
}

function checkpoint(generator: GeneratorKey, index: number, state = `{"day":${index}}`): Checkpoint {
  return { generator, frontierMs: T0 + index * DAY_MS, tickMs: T0 + index * DAY_MS + TICK_MS, state };
}

export function result(more: Partial<AnalysisResult>): AnalysisResult {
  return { tickMs: T0, replaced: [], days: [], cycles: [], findings: [], checkpoints: [], hotStates: [], ...more };
}

function visit(id: string, more: Partial<Visit> = {}): Visit {
  return visitSchema.parse({ id, site: 'quay-7', generators: ['gen-1'], state: 'planned', findings: ['f1'], bring: ['o-rings'], updatedAt: isoFromMs(T0), updatedBy: 'Ana', ...more });
}

function entry(id: string, recordedMs: number, more: Record<string, unknown> = {}): Entry {
  return entrySchema.parse({ id, site: 'quay-7', generator: 'gen-1', startedAt: isoFromMs(recordedMs - HOUR_MS), recordedAt: isoFromMs(recordedMs), replaced: ['coalescing-element'], readings: { asLeft: { 'tank-pressure': 612.5 } }, ...more });
}

function refused(receivedMs: number, more: Partial<QuarantineItem> = {}): QuarantineItem {
  return { id: 0, receivedMs, topic: 'lull/v1/quay-7/gen-1/readings', payload: '[{"n":"é"}]', reason: 'malformed', says: 'has no value', generator: QUAY, channel: null, releasedMs: null, ...more };
}

function notice(id: string, madeMs: number, more: Partial<Notice> = {}): Notice {
  return {
    id, rule: 'desk', ruleName: 'Desk', kind: 'finding', to: 'desk@invented.example', subject: 'Quay 7, gen-1: leak', text: 'a leak', items: [{ finding: 'f1', site: 'quay-7', generator: 'gen-1', change: 'opened', cause: 'leak', atMs: madeMs }],
    mayBundle: false, madeMs, notBeforeMs: madeMs, attempts: 0, state: 'waiting', lastError: null, sentMs: null, ...more,
  };
}

/** What every RecordStore promises. */
export function recordStoreContract(name: string, open: (room: QuarantineRoom) => Promise<OpenedRecords>, { persistent, runs = 100 }: { readonly persistent: boolean; readonly runs?: number }): void {
  describe(`RecordStore: ${name}`, () => {
    let opened: OpenedRecords;
    let store: RecordStore;
    beforeEach(async () => {
      opened = await open(ROOM);
      store = opened.store;
    });
    afterEach(() => opened.clean());

    test('a new store is empty', async () => {
      expect(await Promise.all([store.registryChanges(), store.entries(), store.findings(), store.actions(), store.recentDays(9), store.hotStates(), store.dirty(), store.quarantined(), store.quarantineCounts(), store.presence(), store.presenceSince(0), store.auditLines()])).toEqual(Array.from({ length: 12 }, () => []));
      expect(await store.report()).toBeUndefined();
      expect(await store.finding('x')).toBeUndefined();
      expect(await store.lastTickMs()).toBe(0);
      expect((await store.savedSettings('units')).size).toBe(0);
      expect(await store.checkpointBefore(QUAY, Infinity)).toBeUndefined();
    });

    test('recordRegistryChange() keeps every change in order of when it was recorded', async () => {
      const changes = [3, 1, 2].map((hour) => ({ validFromMs: T0 - hour, recordedAtMs: T0 + hour * HOUR_MS, by: 'sites.yaml', site: siteSchema.parse({ id: 'quay-7', name: `Quay ${hour}`, generators: [{ id: 'gen-1', tankLitres: 115 }] }) }));
      for (const change of changes) await store.recordRegistryChange(change);
      expect(await store.registryChanges()).toEqual([changes[1], changes[2], changes[0]]);
      expect(await store.registryChanges(T0 + 2 * HOUR_MS)).toEqual([changes[2], changes[0]]);
    });

    test('saveEntry() gives the newest revision of each, in order of recordedAt, then id', async () => {
      await store.saveEntry(entry('b', T0), 'Ana');
      await store.saveEntry(entry('a', T0), 'Ana');
      await store.saveEntry(entry('c', T0 - HOUR_MS), 'Ana');
      const revised = entry('b', T0 + HOUR_MS, { note: 'valve found open', generator: 'gen-2' });
      await store.saveEntry(revised, 'Rui');
      await store.saveEntry(revised, 'Rui');
      expect((await store.entries()).map((one) => one.id)).toEqual(['c', 'a', 'b']);
      expect((await store.entries()).at(-1)).toEqual(revised);
      expect((await store.entries({ generator: QUAY })).map((one) => one.id)).toEqual(['c', 'a']);
      expect((await store.entries({ generator: 'quay-7/gen-2' as GeneratorKey, recordedFromMs: T0 })).map((one) => one.id)).toEqual(['b']);
      expect((await store.entries({ recordedFromMs: T0 + HOUR_MS })).map((one) => one.id)).toEqual(['b']);
    });

    test('saveAnalysis() upserts findings by id; findings() gives them newest first', async () => {
      await store.saveAnalysis(result({ findings: [finding('f1', QUAY, T0), finding('f2', QUAY, T0 + HOUR_MS), finding('f3', PIER, T0 + 2 * HOUR_MS)] }));
      const closed = finding('f1', QUAY, T0, { state: 'closed', closedAt: isoFromMs(T0 + DAY_MS), closedReason: 'superseded', history: [{ at: isoFromMs(T0), cause: 'leak', probability: 0.7 }] });
      await store.saveAnalysis(result({ findings: [closed] }));
      expect((await store.findings()).map((one) => one.id)).toEqual(['f3', 'f2', 'f1']);
      expect(await store.finding('f1')).toEqual(closed);
      expect((await store.findings({ open: true })).map((one) => one.id)).toEqual(['f3', 'f2']);
      expect((await store.findings({ open: false })).map((one) => one.id)).toEqual(['f1']);
      expect((await store.findings({ generator: QUAY, open: true })).map((one) => one.id)).toEqual(['f2']);
      expect((await store.findings({ limit: 2 })).map((one) => one.id)).toEqual(['f3', 'f2']);
    });

    test('saveAnalysis() keeps the newest review of a generator, and one verification of each visit and look', async () => {
      const review = (generator: GeneratorKey, atMs: number): GeneratorReview => ({ generator, atMs, canShow: null, leakTerms: null, urgency: { ifStopsHours: 7, ifShutHours: null, pipingFallKPaPerHour: 9, fallFrom: 'measured', systemKPa: 240, lowPressureKPa: 180, says: 'é' } });
      const verification = (visitedAtMs: number, look: Verification['look'], more: Partial<Verification> = {}): Verification => ({ generator: QUAY, visit: `v${visitedAtMs}`, visitedAtMs, look, atMs: T0, verdict: 'not enough data yet', before: SIDE, after: SIDE, says: ['no run yet'], recurrence: null, ...more });
      expect(await store.review(QUAY)).toBeUndefined();
      expect(await store.verifications(QUAY)).toEqual([]);
      await store.saveAnalysis(result({ reviews: [review(QUAY, T0), review(PIER, T0)], verifications: [verification(T0, 'days'), verification(T0, '24 h'), verification(T0 - 5, '4 h')] }));
      const improved = verification(T0, 'days', { verdict: 'improved', recurrence: ['f1', 'f2'] });
      await store.saveAnalysis(result({ reviews: [review(QUAY, T0 + 1)], verifications: [improved, verification(T0, '4 h', { generator: PIER })] }));
      expect(await store.review(QUAY)).toEqual(review(QUAY, T0 + 1));
      expect(await store.review(PIER)).toEqual(review(PIER, T0));
      expect(await store.verifications(QUAY)).toEqual([verification(T0 - 5, '4 h'), verification(T0, '24 h'), improved]);
      await store.saveAnalysis(result({}));
      expect(await store.review(QUAY)).toEqual(review(QUAY, T0 + 1));
    });

    test('postJob() leaves a question, answerJob() answers it once, and old ones are forgotten', async () => {
      const job = (id: string, postedAtMs: number): Job => ({ id, kind: 'leaving-check', generator: QUAY, postedAtMs, answeredAtMs: null, answer: null, problem: null });
      expect(await store.openJobs()).toEqual([]);
      for (const one of [job('b', T0 + 1), job('a', T0 + 1), job('c', T0)]) await store.postJob(one);
      await store.postJob(job('a', T0 + 99));
      expect(await store.openJobs()).toEqual([job('c', T0), job('a', T0 + 1), job('b', T0 + 1)]);
      await store.answerJob('a', { atMs: T0 + 7, answer: { says: ['as usual'] } });
      await store.answerJob('a', { atMs: T0 + 8, problem: 'a second answer' });
      await store.answerJob('b', { atMs: T0 + 9, problem: 'no readings' });
      await store.answerJob('unknown', { atMs: T0, answer: 1 });
      expect(await store.job('a')).toEqual({ ...job('a', T0 + 1), answeredAtMs: T0 + 7, answer: { says: ['as usual'] } });
      expect(await store.job('b')).toMatchObject({ answeredAtMs: T0 + 9, answer: null, problem: 'no readings' });
      expect(await store.job('unknown')).toBeUndefined();
      expect(await store.openJobs()).toEqual([job('c', T0)]);
      await store.postJob(job('d', T0 + 7 * DAY_MS + 1));
      expect(await store.job('c')).toBeUndefined();
      expect(await store.job('a')).toBeDefined();
    });

    test('recordAction() keeps what people did, in order of time', async () => {
      const close = { finding: 'f1', atMs: T0 + 5, by: 'Ana', action: 'close', reason: 'improved', note: 'new element' } as const;
      const shelve = { finding: 'f1', atMs: T0 + 1, by: 'Rui', action: 'shelve', untilMs: T0 + DAY_MS } as const;
      const other = { finding: 'f2', atMs: T0 + 3, by: 'Rui', action: 'acknowledge' } as const;
      for (const action of [close, shelve, other]) await store.recordAction(action);
      expect(await store.actions()).toEqual([shelve, other, close]);
      expect(await store.actions({ finding: 'f1' })).toEqual([shelve, close]);
      expect(await store.actions({ fromMs: T0 + 3 })).toEqual([other, close]);
    });

    test('saveAnalysis() replaces days and cycles of a generator from a time on', async () => {
      const days = Array.from({ length: 5 }, (_, index) => dayRow(QUAY, index));
      const cycles = Array.from({ length: 48 }, (_, index) => cycle(QUAY, index, { cut: index % 2 === 0 }));
      await store.saveAnalysis(result({ days: [...days, dayRow(PIER, 1)], cycles: [...cycles, cycle(PIER, 1)] }));
      expect(await store.days({ generator: QUAY })).toEqual(days);
      expect(await store.cycles({ generator: QUAY, ...everything })).toEqual(cycles);
      const changed = dayRow(QUAY, 3, { provisional: true, dutyRatio: null });
      await store.saveAnalysis(result({ replaced: [{ generator: QUAY, fromMs: T0 + DAY_MS }], days: [dayRow(QUAY, 1), changed], cycles: [cycle(QUAY, 30)] }));
      expect(await store.days({ generator: QUAY })).toEqual([days[0], days[1], changed]);
      expect(await store.cycles({ generator: QUAY, ...everything })).toEqual([...cycles.slice(0, 24), cycle(QUAY, 30)]);
      expect((await store.days({ generator: PIER })).length).toBe(1);
      await store.saveAnalysis(result({ days: [dayRow(QUAY, 3)], cycles: [cycle(QUAY, 30, { restS: 7 })] }));
      expect((await store.days({ generator: QUAY })).at(-1)).toEqual(days[3]);
      expect((await store.cycles({ generator: QUAY, ...everything })).at(-1)?.restS).toBe(7);
    });

    test('days() and cycles() take spans as [from, to)', async () => {
      await store.saveAnalysis(result({ days: [0, 1, 2, 3].map((index) => dayRow(QUAY, index)), cycles: [0, 1, 2, 3].map((index) => cycle(QUAY, index)) }));
      expect((await store.days({ generator: QUAY, fromMs: T0 + DAY_MS, toMs: T0 + 3 * DAY_MS })).map((one) => one.startMs)).toEqual([T0 + DAY_MS, T0 + 2 * DAY_MS]);
      expect((await store.days({ generator: QUAY, fromMs: T0 + DAY_MS + 1 })).length).toBe(2);
      expect((await store.cycles({ generator: QUAY, fromMs: T0 + HOUR_MS, toMs: T0 + 3 * HOUR_MS })).map((one) => one.startMs)).toEqual([T0 + HOUR_MS, T0 + 2 * HOUR_MS]);
      expect((await store.cycles({ generator: QUAY, ...everything, limit: 3 })).length).toBe(3);
    });

    test('recentDays() gives the last days of every generator', async () => {
      await store.saveAnalysis(result({ days: [...Array.from({ length: 9 }, (_, index) => dayRow(QUAY, index)), dayRow(PIER, 0), dayRow(PIER, 1)] }));
      expect((await store.recentDays(3)).map((one) => [one.generator, one.startMs])).toEqual([[PIER, T0], [PIER, T0 + DAY_MS], ...[6, 7, 8].map((index) => [QUAY, T0 + index * DAY_MS])]);
    });

    test('saveAnalysis() keeps the report, the tick and the hot states', async () => {
      const report: RankingReport = { at: isoFromMs(T0), ranking: [], findings: [finding('f1', QUAY, T0)] };
      await store.saveAnalysis(result({ tickMs: T0, report, hotStates: [{ generator: QUAY, tickMs: T0, state: 'one' }, { generator: PIER, tickMs: T0, state: 'two' }] }));
      await store.saveAnalysis(result({ tickMs: T0 + TICK_MS, hotStates: [{ generator: QUAY, tickMs: T0 + TICK_MS, state: 'three' }] }));
      expect(await store.report()).toEqual(report);
      expect(await store.lastTickMs()).toBe(T0 + TICK_MS);
      expect(await store.hotStates()).toEqual([{ generator: PIER, tickMs: T0, state: 'two' }, { generator: QUAY, tickMs: T0 + TICK_MS, state: 'three' }]);
    });

    test('saveAnalysis() keeps the newest 35 checkpoints of each generator', async () => {
      for (let start = 0; start < 50; start += 5) await store.saveAnalysis(result({ checkpoints: [0, 1, 2, 3, 4].map((index) => checkpoint(QUAY, start + index)) }));
      await store.saveAnalysis(result({ checkpoints: [checkpoint(PIER, 0), checkpoint(QUAY, 49, 'folded again')] }));
      expect((await store.checkpointBefore(QUAY, Infinity))?.state).toBe('folded again');
      expect(await store.checkpointBefore(QUAY, T0 + 20 * DAY_MS + 1)).toEqual(checkpoint(QUAY, 20));
      expect(await store.checkpointBefore(QUAY, T0 + 20 * DAY_MS)).toEqual(checkpoint(QUAY, 19));
      expect(await store.checkpointBefore(QUAY, T0 + 15 * DAY_MS + 1)).toEqual(checkpoint(QUAY, 15));
      expect(await store.checkpointBefore(QUAY, T0 + 15 * DAY_MS)).toBeUndefined();
      expect(await store.checkpointBefore(PIER, Infinity)).toEqual(checkpoint(PIER, 0));
    });

    test('saveAnalysis() drops the checkpoints after the one from which it folded again', async () => {
      await store.saveAnalysis(result({ checkpoints: [0, 1, 2, 3].map((index) => checkpoint(QUAY, index)) }));
      await store.saveAnalysis(result({ checkpoints: [checkpoint(PIER, 3)] }));
      await store.saveAnalysis(result({ replaced: [{ generator: QUAY, fromMs: T0 + DAY_MS }], checkpoints: [checkpoint(QUAY, 5)] }));
      expect(await store.checkpointBefore(QUAY, T0 + 5 * DAY_MS)).toEqual(checkpoint(QUAY, 1));
      expect(await store.checkpointBefore(QUAY, Infinity)).toEqual(checkpoint(QUAY, 5));
      expect(await store.checkpointBefore(PIER, Infinity)).toEqual(checkpoint(PIER, 3));
    });

    test('markDirty() keeps the earliest mark, and clearDirty() what came after', async () => {
      await store.markDirty([QUAY, PIER], T0 + 5);
      await store.markDirty([QUAY], T0 + 900);
      await store.markDirty([QUAY], T0 + 2);
      expect(await store.dirty()).toEqual([{ generator: PIER, receivedMs: T0 + 5 }, { generator: QUAY, receivedMs: T0 + 2 }]);
      await store.clearDirty([PIER], T0);
      expect((await store.dirty()).length).toBe(2);
      await store.clearDirty([PIER, QUAY], T0 + TICK_MS);
      expect(await store.dirty()).toEqual([]);
      await store.markDirty([QUAY], T0 + TICK_MS - 1);
      await store.markDirty([QUAY], T0 + TICK_MS);
      await store.clearDirty([QUAY], T0 + TICK_MS);
      expect(await store.dirty()).toEqual([{ generator: QUAY, receivedMs: T0 + TICK_MS }]);
    });

    test('no order of marks and clearings loses a reading that is not folded', async () => {
      const step = fc.record({ mark: fc.boolean(), minutes: fc.integer({ min: 0, max: 14 }) });
      await fc.assert(
        fc.asyncProperty(fc.array(step, { maxLength: 30 }), async (history) => {
          await store.clearDirty([QUAY], Number.MAX_SAFE_INTEGER);
          let nowMs = T0;
          let unfolded: number[] = [];
          for (const { mark, minutes } of history) {
            nowMs += minutes * MINUTE_MS;
            if (mark) {
              await store.markDirty([QUAY], nowMs);
              unfolded.push(nowMs);
            } else {
              const tickMs = Math.floor(nowMs / TICK_MS) * TICK_MS;
              await store.clearDirty([QUAY], tickMs);
              unfolded = unfolded.filter((receivedMs) => receivedMs >= tickMs);
            }
            const [known] = await store.dirty();
            if (unfolded.length > 0) expect(known?.receivedMs).toBeLessThanOrEqual(Math.min(...unfolded));
          }
          await store.clearDirty([QUAY], nowMs + TICK_MS);
          expect(await store.dirty()).toEqual([]);
        }),
        { numRuns: runs, seed: 20261124 },
      );
    }, 300_000);

    test('saveVisit() keeps every revision, refuses a stale one, and takes the same twice', async () => {
      const first = await store.saveVisit(visit('v1'));
      expect(first).toEqual({ saved: visit('v1', { revision: 1 }) });
      expect(await store.saveVisit(visit('v1', { updatedAt: isoFromMs(T0 + HOUR_MS) }))).toEqual(first);
      expect(await store.saveVisit(visit('v1', { note: 'another hand' }))).toEqual({ stale: visit('v1', { revision: 1 }) });
      expect(await store.saveVisit(visit('v9', { revision: 3 }))).toEqual({ stale: undefined });
      const second = visit('v1', { revision: 1, plannedFor: '2026-03-03', work: { 'gen-1': { startedAt: null, finishedAt: null, steps: {}, asFound: { tankPressureKPa: 612.5 }, asLeft: {}, valves: { 'supply to riser 1': { found: 'open', left: null } }, replaced: [], adjusted: {}, note: 'é' } } });
      expect(await store.saveVisit(second)).toEqual({ saved: { ...second, revision: 2 } });
      expect(await store.visit('v1')).toEqual({ ...second, revision: 2 });
      expect(await store.visitRevisions('v1')).toEqual([visit('v1', { revision: 1 }), { ...second, revision: 2 }]);
      expect(await store.visit('v9')).toBeUndefined();
      expect(await store.visitRevisions('v9')).toEqual([]);
    });

    test('saveVisit() lets one of two that save at the same time through', async () => {
      await store.saveVisit(visit('v1'));
      const answers = await Promise.all(['a', 'b', 'c'].map((note) => store.saveVisit(visit('v1', { revision: 1, note }))));
      expect(answers.filter((answer) => 'saved' in answer).length).toBe(1);
      expect((await store.visitRevisions('v1')).length).toBe(2);
    });

    test('visits() gives the newest of each in order of the plan, by site, state, technician and day', async () => {
      await store.saveVisit(visit('c', { plannedFor: '2026-03-04', plannedTime: '13:00', technician: 'Ana' }));
      await store.saveVisit(visit('a', { plannedFor: '2026-03-04', plannedTime: '08:00', site: 'pier-2' }));
      await store.saveVisit(visit('b', { state: 'draft' }));
      await store.saveVisit(visit('d', { plannedFor: '2026-03-02' }));
      await store.saveVisit(visit('d', { plannedFor: '2026-03-05', revision: 1, state: 'cancelled' }));
      const ids = async (query?: VisitQuery): Promise<string[]> => (await store.visits(query)).map((one) => one.id);
      expect(await ids()).toEqual(['a', 'c', 'd', 'b']);
      expect(await ids({ site: 'pier-2' })).toEqual(['a']);
      expect(await ids({ states: ['draft', 'cancelled'] })).toEqual(['d', 'b']);
      expect(await ids({ technician: 'Ana' })).toEqual(['c']);
      expect(await ids({ fromDay: '2026-03-04', toDay: '2026-03-04' })).toEqual(['a', 'c']);
      expect(await ids({ fromDay: '2026-03-05' })).toEqual(['d']);
      expect(await ids({ toDay: '2026-03-03' })).toEqual([]);
      expect(await ids({ fromDay: '2026-03-04', site: 'quay-7', states: ['planned'] })).toEqual(['c']);
    });

    test('quarantine() numbers what it keeps, and quarantined() asks by reason, generator, release and id', async () => {
      await store.quarantine([refused(T0), refused(T0 + 1, { reason: 'unit-unclear', channel: 'nitrogen' })]);
      await store.quarantine([refused(T0 + 2, { generator: null, reason: 'unknown-topic', topic: 'lull/v1/x' })]);
      const all = await store.quarantined();
      expect(all).toEqual([{ ...refused(T0), id: all[0]!.id }, { ...refused(T0 + 1, { reason: 'unit-unclear', channel: 'nitrogen' }), id: all[1]!.id }, { ...refused(T0 + 2, { generator: null, reason: 'unknown-topic', topic: 'lull/v1/x' }), id: all[2]!.id }]);
      expect(all[0]!.id < all[1]!.id && all[1]!.id < all[2]!.id && all[0]!.id > 0).toBe(true);
      expect(await store.quarantined({ reason: 'unit-unclear' })).toEqual([all[1]]);
      expect(await store.quarantined({ generator: QUAY })).toEqual([all[0], all[1]]);
      expect(await store.quarantined({ generator: '' })).toEqual([all[2]]);
      expect(await store.quarantined({ afterId: all[0]!.id, limit: 1 })).toEqual([all[1]]);
      await store.markReleased([all[1]!.id], T0 + 9);
      await store.markReleased([all[1]!.id], T0 + 99);
      expect(await store.quarantined({ released: true })).toEqual([{ ...all[1], releasedMs: T0 + 9 }]);
      expect(await store.quarantined({ released: false })).toEqual([all[0], all[2]]);
      expect(await store.quarantineCounts()).toEqual([{ generator: '', reason: 'unknown-topic', count: 1, lastMs: T0 + 2 }, { generator: QUAY, reason: 'malformed', count: 1, lastMs: T0 }]);
    });

    test('trimQuarantine() drops what is too old, then the oldest beyond its room', async () => {
      await store.quarantine([refused(T0 - 91 * DAY_MS), refused(T0 - 90 * DAY_MS), ...Array.from({ length: 5 }, (_, index) => refused(T0 + index, { payload: 'é'.repeat(150) }))]);
      expect(await store.trimQuarantine(T0)).toBe(1 + 1 + 2);
      expect((await store.quarantined()).map((item) => item.receivedMs)).toEqual([T0 + 2, T0 + 3, T0 + 4]);
      expect(await store.trimQuarantine(T0)).toBe(0);
      await store.quarantine([refused(T0 + 9)]);
      expect((await store.quarantined()).at(-1)?.id).toBeGreaterThan((await store.quarantined())[0]!.id);
    });

    test('savePresence() keeps every event; presence() gives the newest of each gateway', async () => {
      const event = (atMs: number, site: string, gateway: string, online: boolean) => ({ atMs, site, gateway, online, generators: online ? [QUAY, PIER] : [] });
      const events = [event(T0, 'quay-7', 'gw-1', true), event(T0 + 2, 'pier-2', 'gw-1', true), event(T0 + 5, 'quay-7', 'gw-1', false), event(T0 + 5, 'quay-7', 'gw-1', true)];
      for (const one of events) await store.savePresence(one);
      expect(await store.presence()).toEqual([events[1], events[3]]);
      expect(await store.presenceSince(T0 + 2)).toEqual(events.slice(1));
    });

    test('saveSetting() keeps one value for each name of a scope', async () => {
      await store.saveSetting('percent', 'b', '1');
      await store.saveSetting('percent', 'a', '{"x":"é"}');
      await store.saveSetting('percent', 'b', '2');
      await store.saveSetting('other', 'b', '3');
      expect([...(await store.savedSettings('percent'))]).toEqual([['a', '{"x":"é"}'], ['b', '2']]);
    });

    test('issueRecord() keeps each revision for good, and refuses one that is taken', async () => {
      const record = (number: number, revision: number, more: Partial<IssuedRecord> = {}): IssuedRecord => ({ number, revision, kind: 'visit-sheet', subject: 'visit v1', site: 'quay-7', generators: ['gen-1'], title: 'Visit é', issuedAt: isoFromMs(T0), issuedBy: 'Ana', ...more });
      expect(await store.issueRecord(record(1, 1), { html: '<p>first</p>', csv: 'a' })).toBe(true);
      expect(await store.issueRecord(record(1, 1, { title: 'another' }), { html: '<p>other</p>', csv: 'b' })).toBe(false);
      expect(await store.issueRecord(record(1, 2), { html: '<p>second</p>', csv: 'c' })).toBe(true);
      expect(await store.issueRecord(record(2, 1, { subject: 'owner pier-2', site: 'pier-2', generators: ['gen-2', 'gen-3'] }), { html: '<p>third</p>', csv: '' })).toBe(true);
      const places = async (query?: RecordQuery): Promise<string[]> => (await store.records(query)).map((one) => `${one.number}.${one.revision}`);
      expect(await places()).toEqual(['2.1', '1.2', '1.1']);
      expect(await places({ subject: 'visit v1' })).toEqual(['1.2', '1.1']);
      expect(await places({ site: 'pier-2', generator: 'gen-3' })).toEqual(['2.1']);
      expect(await places({ generator: 'gen-1', limit: 1 })).toEqual(['1.2']);
      expect(await places({ number: 7 })).toEqual([]);
      expect((await store.records({ number: 1 }))[1]).toEqual(record(1, 1));
      expect(await store.recordDocument(1, 1)).toEqual({ html: '<p>first</p>', csv: 'a' });
      expect(await store.recordDocument(3, 1)).toBeUndefined();
    });

    test('savePhoto() keeps a photo once, however often it is sent', async () => {
      const photo = (id: string, atMs: number, jpegBase64 = '/9j/AA=='): VisitPhoto => ({ visit: 'v1', id, generator: 'gen-1', at: isoFromMs(atMs), says: 'as found', jpegBase64 });
      await store.savePhoto(photo('b', T0));
      await store.savePhoto(photo('a', T0 + 5));
      await store.savePhoto(photo('b', T0 + 9, '/9j/other'));
      await store.savePhoto({ ...photo('b', T0), visit: 'v2' });
      const row = { visit: 'v1', generator: 'gen-1', says: 'as found' };
      expect(await store.photos('v1')).toEqual([{ ...row, id: 'b', at: isoFromMs(T0) }, { ...row, id: 'a', at: isoFromMs(T0 + 5) }]);
      expect(await store.photo('v1', 'b')).toEqual(photo('b', T0));
      expect(await store.photo('v3', 'b')).toBeUndefined();
    });

    test('auditLines() gives the newest first', async () => {
      const lines = [1, 2, 3].map((index) => ({ atMs: T0 + index, by: 'Ana', did: 'closed a finding', about: `f${index}` }));
      for (const line of lines) await store.audit(line);
      expect(await store.auditLines()).toEqual([...lines].reverse());
      expect(await store.auditLines(1)).toEqual([lines[2]]);
    });

    test('saveNotices() keeps notices and what was looked at; a known id is replaced; those that wait come oldest first', async () => {
      await store.saveNotices([notice('n1', T0), notice('n2', T0 + 1)], [{ finding: 'f1', seen: 'new' }]);
      await store.saveNotices([notice('n3', T0 + 2)], [{ finding: 'f1', seen: 'closed' }, { finding: 'f2', seen: 'new' }]);
      await store.saveNotices([notice('n2', T0 + 1, { state: 'sent', sentMs: T0 + 9 })]);
      expect((await store.notices()).map((one) => `${one.id} ${one.state}`)).toEqual(['n3 waiting', 'n2 sent', 'n1 waiting']);
      expect((await store.notices({ waiting: true })).map((one) => one.id)).toEqual(['n1', 'n3']);
      expect((await store.notices({ limit: 1 })).map((one) => one.id)).toEqual(['n3']);
      expect(await store.notices({ id: 'n2' })).toEqual([notice('n2', T0 + 1, { state: 'sent', sentMs: T0 + 9 })]);
      expect(await store.notices({ id: 'nobody' })).toEqual([]);
      expect(Object.fromEntries(await store.noticesSeen())).toEqual({ f1: 'closed', f2: 'new' });
    });

    test('every method rejects with a StoreError once the store is closed', async () => {
      await store.close();
      const calls: (() => Promise<unknown>)[] = [
        () => store.registryChanges(), () => store.saveEntry(entry('a', T0), 'Ana'), () => store.entries(), () => store.saveVisit(visit('v')), () => store.visits(), () => store.visit('v'), () => store.visitRevisions('v'), () => store.photos('v'), () => store.photo('v', 'p'), () => store.records(), () => store.recordDocument(1, 1), () => store.findings(), () => store.finding('f'), () => store.actions(), () => store.saveAnalysis(result({})), () => store.days({ generator: QUAY }),
        () => store.recentDays(3), () => store.cycles({ generator: QUAY, ...everything }), () => store.report(), () => store.checkpointBefore(QUAY, 1), () => store.hotStates(), () => store.lastTickMs(), () => store.markDirty([QUAY], T0), () => store.dirty(), () => store.clearDirty([QUAY], T0),
        () => store.quarantine([refused(T0)]), () => store.quarantined(), () => store.quarantineCounts(), () => store.markReleased([1], T0), () => store.trimQuarantine(T0), () => store.presence(), () => store.presenceSince(0), () => store.savedSettings('x'), () => store.saveSetting('x', 'y', 'z'),
        () => store.audit({ atMs: T0, by: 'a', did: 'b', about: 'c' }), () => store.auditLines(), () => store.sizeBytes(),
        () => store.saveNotices([]), () => store.notices(), () => store.noticesSeen(),
      ];
      for (const call of calls) await expect(call()).rejects.toThrow(StoreError);
      await store.close();
    });

    if (persistent) testPersistence(() => opened);
  });
}

function testPersistence(opened: () => OpenedRecords): void {
  test('a store that is opened again knows what it kept', async () => {
    let { store } = opened();
    await store.saveAnalysis(result({ tickMs: T0 + TICK_MS, days: [dayRow(QUAY, 0)], cycles: [cycle(QUAY, 0)], findings: [finding('f1', QUAY, T0)], checkpoints: [checkpoint(QUAY, 0)], hotStates: [{ generator: QUAY, tickMs: T0, state: 'warm' }] }));
    await store.markDirty([QUAY], T0);
    await store.quarantine([refused(T0)]);
    await store.saveEntry(entry('a', T0), 'Ana');
    await store.saveVisit(visit('v1'));
    store = await opened().reopen!();
    expect(await store.days({ generator: QUAY })).toEqual([dayRow(QUAY, 0)]);
    expect(await store.cycles({ generator: QUAY, ...everything })).toEqual([cycle(QUAY, 0)]);
    expect(await store.findings()).toEqual([finding('f1', QUAY, T0)]);
    expect(await store.dirty()).toEqual([{ generator: QUAY, receivedMs: T0 }]);
    expect((await store.quarantined()).length).toBe(1);
    expect(await store.entries()).toEqual([entry('a', T0)]);
    expect(await store.visits()).toEqual([visit('v1', { revision: 1 })]);
    expect((await store.hotStates())[0]?.state).toBe('warm');
    expect(await store.lastTickMs()).toBe(T0 + TICK_MS);
  });

  test('two connections see each other, and marks set after a clearing by the other are kept', async () => {
    const { store, another } = opened();
    const worker = await another!();
    await store.markDirty([QUAY, PIER], T0 + 1);
    expect((await worker.dirty()).length).toBe(2);
    await worker.saveAnalysis(result({ tickMs: T0 + TICK_MS, days: [dayRow(QUAY, 0)] }));
    await worker.clearDirty([QUAY, PIER], T0 + TICK_MS);
    expect(await store.dirty()).toEqual([]);
    expect((await store.days({ generator: QUAY })).length).toBe(1);
    // The same span again, as a redelivery would: the copy in memory must not hide that the mark is gone.
    await store.markDirty([QUAY], T0 + 1);
    expect(await worker.dirty()).toEqual([{ generator: QUAY, receivedMs: T0 + 1 }]);
    await Promise.all(Array.from({ length: 40 }, (_, index) => (index % 2 === 0 ? store.audit({ atMs: index, by: 'main', did: 'x', about: 'y' }) : worker.saveAnalysis(result({ tickMs: index, cycles: [cycle(QUAY, index)] })))));
    expect((await worker.auditLines()).length).toBe(20);
    expect((await store.cycles({ generator: QUAY, ...everything })).length).toBe(20);
    await worker.close();
  });
}
