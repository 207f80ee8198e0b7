// Issue: the story of a finding: its span, its limit and when it is met, the split of the rise, its life with a corrected closing; the hand-over note.
import * as fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { entrySchema } from '../../../shared/entry.ts';
import type { Finding, FindingAction, Forecast } from '../../../shared/finding.ts';
import { generatorSchema, siteSchema } from '../../../shared/registry.ts';
import { cyclesPicture, forecastSentence, leadingForecast, lifeOf, limitMarks, presentSure, runTimeParts, splitSentence, storyMarks, storySpan } from '../../../dashboard/views/finding-story.ts';
import { handOver } from '../../../dashboard/views/hand-over.ts';
import type { LinePicture } from '../../../dashboard/views/line-picture.ts';
import { verticalSpan } from '../../../dashboard/views/line-picture.ts';
import { heldBy } from '../../../dashboard/views/overview-rows.ts';
import { runTimeSplitSvg } from '../../../dashboard/views/run-time-split-svg.ts';

const NOW_MS = Date.parse('2026-11-24T12:00:00Z');
const DAY_MS = 86_400_000;
const iso = (days: number): string => new Date(NOW_MS + days * DAY_MS).toISOString();

const finding = (more: Partial<Finding> = {}): Finding => ({
  id: 'f1', site: 'quay', generator: 'gen-1', openedAt: iso(-9), onset: { earliest: iso(-15), likely: iso(-12), latest: iso(-11) }, cause: 'leak', causes: [{ cause: 'leak', probability: 0.93 }], among: null, missingChannels: [], alongside: [],
  history: [{ at: iso(-9), cause: 'undetermined', probability: 0.7, among: ['leak', 'check-valve-leaking'] }, { at: iso(-5), cause: 'leak', probability: 0.93 }], evidence: [], settings: 'abc', state: 'new', shelvedUntil: null, closedAt: null, closedReason: null, ...more,
});
const forecast: Forecast = { limit: 'dutyRatio', earliest: iso(5), quarterFrom: iso(9), likely: iso(14), quarterTo: iso(30), latest: null };
const row = { rank: 1, site: 'quay', generator: 'gen-1', dataState: 'reporting', dutyRatio: 0.31, baselineDutyRatio: 0.18, demandChange: 0.62, deliveryChange: -0.04, cause: 'leak', causes: [], serviceBy: { ...forecast }, forecasts: [forecast], dueBy: null, because: '', findings: ['f1'] } as const;
const act = (action: FindingAction['action'], days: number, more: Partial<FindingAction> = {}): FindingAction => ({ finding: 'f1', atMs: NOW_MS + days * DAY_MS, by: 'Ana', action, ...more });

describe('storySpan()', () => {
  test('storySpan() begins four weeks before the onset and looks ahead to the 75 % date', () => {
    const span = storySpan(finding(), forecast, NOW_MS);
    expect(new Date(span.fromMs).toISOString().slice(0, 10)).toBe('2026-10-12');
    expect(span.toMs).toBeGreaterThan(NOW_MS + 30 * DAY_MS);
    expect(span.toMs - NOW_MS).toBeLessThanOrEqual(NOW_MS - span.fromMs);
  });

  test('storySpan() of a closed finding ends soon after its closing', () => {
    const span = storySpan(finding({ state: 'closed', closedAt: iso(-100), onset: { earliest: iso(-150), likely: null, latest: null } }), forecast, NOW_MS);
    expect(span.toMs).toBe(NOW_MS - 86 * DAY_MS + DAY_MS);
  });
});

describe('limits and when they are met', () => {
  const picture: LinePicture = { id: 'duty-ratio', title: 'Duty ratio', unit: '%', fromMs: NOW_MS - 30 * DAY_MS, toMs: NOW_MS + 30 * DAY_MS, startAtZero: true, leastSpan: 5, aligned: true, marks: [], series: [{ label: 'duty ratio', shade: 'strong', stepped: false, points: [27, 30, 33].map((y, index) => ({ x: NOW_MS - (3 - index) * DAY_MS, y })) }] };
  const marks = limitMarks('duty-ratio', { row, generator: generatorSchema.parse({ id: 'gen-1' }), days: [], picture, nowMs: NOW_MS, zone: 'UTC' });

  test('limitMarks() draws the limit and the wedges from the newest level to it, on its own chart only', () => {
    expect(marks[0]).toEqual({ kind: 'limit', y: 50, says: 'limit 50 %' });
    expect(marks[1]).toMatchObject({ kind: 'forecast', fromY: 30, toY: 50, wide: [Date.parse(iso(5)), null], narrow: [Date.parse(iso(9)), Date.parse(iso(30))], likelyMs: Date.parse(iso(14)) });
    expect(limitMarks('nitrogen', { row, generator: generatorSchema.parse({ id: 'gen-1' }), days: [], picture: { ...picture, series: [] }, nowMs: NOW_MS, zone: 'UTC' })).toEqual([{ kind: 'limit', y: 98, says: 'limit 98 %' }]);
    expect(verticalSpan({ ...picture, marks }).max).toBeGreaterThan(50);
  });

  test('forecastSentence() says both ranges, and what is beyond the horizon', () => {
    expect(forecastSentence(forecast, 'UTC', NOW_MS)).toBe('The limit of duty ratio is met about 8 Dec; half of the chances between 3 Dec and 24 Dec; four in five between 29 Nov and later than the forecast looks');
    const passed = '2026-11-23T23:00:00Z';
    expect(forecastSentence({ limit: 'deliveryShare', earliest: passed, quarterFrom: passed, likely: passed, quarterTo: passed, latest: passed }, 'UTC', NOW_MS)).toBe('The limit of delivery is passed');
    expect(forecastSentence({ limit: 'nitrogen', earliest: '2026-12-26T00:00:00Z', quarterFrom: '2027-03-26T00:00:00Z', likely: null, quarterTo: null, latest: null }, 'UTC', NOW_MS)).toBe('The limit of nitrogen is met later than the forecast looks, more likely than not; one chance in four before 26 Mar 2027; one in ten before 26 Dec');
    expect(leadingForecast({ ...row, forecasts: [] })).toMatchObject({ limit: 'dutyRatio', quarterFrom: null });
    expect(leadingForecast(null)).toBeUndefined();
  });
});

describe('the split of the rise', () => {
  test('runTimeParts() add up to the change of run time, for any changes', () => {
    fc.assert(fc.property(fc.double({ min: -0.9, max: 8, noNaN: true }), fc.double({ min: -0.9, max: 2, noNaN: true }), (demandChange, deliveryChange) => {
      const parts = runTimeParts({ demandChange, deliveryChange })!;
      expect(Math.exp(parts.demandLn + parts.deliveryLn)).toBeCloseTo((1 + demandChange) / (1 + deliveryChange), 6);
      expect(runTimeSplitSvg(parts, 360)).not.toContain('NaN');
    }), { numRuns: 100, seed: 3 });
    expect(runTimeParts({ demandChange: null, deliveryChange: 0 })).toBeUndefined();
    expect(runTimeParts({ demandChange: -1, deliveryChange: 0 })).toBeUndefined();
  });

  test('splitSentence() gives shares only where both parts push the same way', () => {
    expect(splitSentence(runTimeParts({ demandChange: 0.62, deliveryChange: -0.04 })!)).toBe('Run time is +69\u00a0% against its baseline: demand +62\u00a0%, delivery −4\u00a0%. 92\u00a0% of it comes from demand, 8\u00a0% from delivery.');
    expect(splitSentence(runTimeParts({ demandChange: -0.2, deliveryChange: -0.5 })!)).toContain('the two work against each other');
    expect(splitSentence(runTimeParts({ demandChange: 2.02, deliveryChange: 0.03 })!)).toBe('Run time is +193\u00a0% against its baseline: demand +202\u00a0%, delivery +3\u00a0%. It comes from demand.');
    expect(splitSentence(runTimeParts({ demandChange: 0, deliveryChange: 0 })!)).toBe('Run time is as before: demand as before, delivery as before.');
  });
});

test('cyclesPicture() breaks its lines at a gap and at a cut, and leaves an open rest open', () => {
  const cycle = (startMs: number, more = {}) => ({ generator: 'quay/gen-1' as never, startMs, runS: 300, restS: 2700, source: 'running' as const, cut: false, fallKPaPerMin: null, riseKPaPerMin: null, startKPa: null, stopKPa: null, ...more });
  const picture = cyclesPicture([cycle(0), cycle(3_000_000), cycle(30_000_000), cycle(33_000_000, { restS: 0 })], { fromMs: 0, toMs: 4e7 }, []);
  expect(picture.series[0]!.points.map((point) => point.y)).toEqual([5, 5, Number.NaN, 5, 5]);
  expect(picture.series[1]!.points.map((point) => point.y)).toEqual([45, 45, Number.NaN, 45, Number.NaN]);
});

test('storyMarks() put onset, visits done and planned, and now on every chart', () => {
  const marks = storyMarks(finding(), { visits: [{ id: 'v', site: 'quay', generator: 'gen-1', kind: 'service', startedAt: iso(-45), recordedAt: iso(-45), replaced: [], adjusted: {}, readings: {} }] }, [NOW_MS + 3 * DAY_MS], 'UTC', NOW_MS);
  expect(marks.map((mark) => mark.kind)).toEqual(['onset', 'visit', 'visit', 'now']);
});

test('lifeOf() tells all in order of time, and a second closing as the correction that it is', () => {
  const closed = finding({ state: 'closed', closedAt: iso(-2), closedReason: 'false' });
  const life = lifeOf(closed, [act('close', -2, { reason: 'improved' }), act('acknowledge', -8), act('shelve', -7, { untilMs: NOW_MS - 4 * DAY_MS }), act('close', -1, { reason: 'false', note: 'the gauge was wrong', by: 'Rui' })], 'UTC');
  expect(life.map((line) => `${line.by}: ${line.says}`)).toEqual([
    'analysis: found: one of leak, check valve leaking back (likely, 70\u00a0%)', 'Ana: acknowledged', 'Ana: shelved until 20 Nov 2026, 12:00', 'analysis: now says: leak (very likely, 93\u00a0%)', 'Ana: closed, improved', 'Rui: closing corrected, false finding',
  ]);
  expect(life.at(-1)!.note).toBe('the gauge was wrong');
  expect(lifeOf(finding({ state: 'closed', closedAt: iso(-2), closedReason: 'improved' }), [], 'UTC').at(-1)).toMatchObject({ by: 'analysis', says: 'closed, improved' });
});

test('lifeOf() tells of services since it was found, and of none before it or after its closing', () => {
  const entry = (id: string, days: number, more: Record<string, unknown> = {}) => entrySchema.parse({ id, site: 'quay', generator: 'gen-1', startedAt: iso(days), finishedAt: iso(days + 0.1), by: 'Ana', replaced: ['drain'], note: 'stuck', ...more });
  const entries = [entry('a', -20), entry('b', -3), entry('c', -2, { kind: 'trip-test' })];
  expect(lifeOf(finding(), [], 'UTC', entries).filter((line) => line.by === 'Ana')).toEqual([{ atMs: Date.parse(iso(-2.9)), by: 'Ana', says: 'service ended, replaced: drain', note: 'stuck' }]);
  expect(lifeOf(finding({ state: 'closed', closedAt: iso(-4), closedReason: 'improved' }), [], 'UTC', entries).some((line) => line.by === 'Ana')).toBe(false);
});

test('presentSure() closes the list where the heading says another figure than its last line', () => {
  expect(presentSure(finding())).toBeUndefined();
  const moved = finding({ causes: [{ cause: 'leak', probability: 0.89 }, { cause: 'undetermined', probability: 0.11 }] });
  expect(presentSure(moved)).toMatch(/^now likely, 89\s%; /);
  expect(presentSure({ ...moved, state: 'closed' })).toMatch(/^at the end likely, 89\s%; /);
  expect(presentSure(finding({ history: [] }))).toBeUndefined();
});

test('heldBy() is the last who took it', () => {
  expect(heldBy([act('acknowledge', -8), act('plan', -3, { by: 'Rui' }), act('note', -1, { by: 'Eva' })])).toBe('Rui');
  expect(heldBy([act('note', -1)])).toBeNull();
});

test('handOver() puts each finding where the next shift looks for it, in order of rank', () => {
  const site = siteSchema.parse({ id: 'quay', name: 'Invented quay' });
  const generators = ['gen-1', 'gen-2', 'gen-3'].map((id, index) => ({ registered: { key: `quay/${id}` as never, site, generator: generatorSchema.parse({ id }), claimed: true }, row: { ...row, rank: 3 - index, generator: id, dataState: id === 'gen-3' ? ('not-reporting' as const) : ('reporting' as const) }, lastHeardMs: NOW_MS, servedAt: iso(-0.1) }));
  const findings = [finding(), finding({ id: 'f2', generator: 'gen-2', openedAt: iso(-0.1) }), finding({ id: 'f3', generator: 'gen-3', shelvedUntil: iso(4) }), finding({ id: 'f4', generator: 'gen-2', state: 'closed', closedAt: iso(-0.2), closedReason: 'improved' }), finding({ id: 'f5', generator: 'gen-2', openedAt: iso(-3), state: 'planned' }), finding({ id: 'f6', generator: 'gen-1', openedAt: iso(-3), state: 'verifying' })];
  const acted = [act('note', -0.05, { finding: 'f1', note: 'rang the site' })];
  const note = handOver({ generators, findings, actions: acted, actionsOf: (id) => (id === 'f3' ? [act('shelve', -1, { finding: 'f3', by: 'Eva', note: 'parts are ordered' })] : []), visits: [], fromMs: NOW_MS - DAY_MS / 3, nowMs: NOW_MS });
  expect(note.fresh.map((line) => line.finding)).toEqual(['f2']);
  expect(note.changed.map((line) => [line.finding, line.by])).toEqual([['f4', null], ['f1', 'Ana']]);
  expect(note.changed[0]!.says).toContain('closed by analysis, improved');
  expect(note.waiting.map((line) => line.finding)).toEqual(['f1']);
  expect(note.shelved.map((line) => [line.finding, line.at, line.by, line.note])).toEqual([['f3', iso(4), 'Eva', 'parts are ordered']]);
  expect(note.checked.map((line) => [line.finding, line.says])).toEqual([['f6', expect.stringMatching(/; the work is done and being checked: work ended 24 Nov, 09:36; looked at again 24 Nov, 13:36$/)]]);
  expect(note.silent.map((line) => line.generator)).toEqual(['gen-3']);
  expect([note.generators, note.reporting]).toEqual([3, 2]);
  // Heard and not looked at yet is no silence; never heard is.
  const fresh = handOver({ generators: [{ ...generators[0]!, row: null }, { ...generators[1]!, row: null, lastHeardMs: null }], findings: [], actions: [], actionsOf: () => [], visits: [], fromMs: NOW_MS - DAY_MS, nowMs: NOW_MS });
  expect([fresh.reporting, fresh.silent.map((line) => line.generator)]).toEqual([1, ['gen-2']]);
});
