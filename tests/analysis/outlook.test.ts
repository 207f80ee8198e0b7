// Issue: what lies ahead begins anew at a visit, and purity of short runs is dated no more than it is found (design, sections 5 and 6).
import { describe, expect, test } from 'vitest';
import { judgeDays } from '../../analysis/causes/assess.ts';
import { aheadOf } from '../../analysis/outlook.ts';
import { DEFAULT_ANALYSIS_SETTINGS } from '../../shared/analysis-settings.ts';
import type { DayRow } from '../../shared/cycle.ts';
import { entrySchema } from '../../shared/entry.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { generatorsOf, parseRegistry, type RegisteredGenerator } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';

const START_MS = Date.UTC(2026, 5, 1);
const SOON_MS = 60 * DAY_MS;

function registered(nitrogenAt: string): RegisteredGenerator {
  const parsed = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone: 'UTC', generators: [{ id: 'b', nitrogenAt, nitrogenLimit: 0.98 }] }] }));
  if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
  return generatorsOf(parsed.registry)[0]!;
}

function row(day: number, values: { readonly duty: number; readonly nitrogen?: number; readonly longestRunS?: number }): DayRow {
  const startMs = START_MS + day * DAY_MS;
  const nitrogen = values.nitrogen === undefined ? null : { value: values.nitrogen, se: 2e-4 };
  return { generator: 'a/b' as GeneratorKey, day: new Date(startMs).toISOString().slice(0, 10), startMs, endMs: startMs + DAY_MS, provisional: false, source: 'running', coveredS: 86_400, runS: 86_400 * values.duty, restS: 86_400 * (1 - values.duty), starts: Math.round((86_400 * values.duty) / (0.8 * (values.longestRunS ?? 900))), dutyRatio: values.duty, unit: 'relative', demand: null, delivery: null, longestRunS: values.longestRunS ?? 900, longestRestS: 4000, cutInKPa: null, cutOutKPa: null, nitrogen, dischargeKPa: null, feedKPa: null, elementDropKPa: null, systemKPa: null, roomC: 20, pipeC: null, humidityPercent: null, holdingRatio: 1, heard: { running: 40 } };
}

const wobble = (day: number): number => 1 + 0.02 * Math.sin(7 * day);
/** 5 % for 60 days, then a leak that takes the run time to 30 % in 25 days and stays there for 15; mended on day 100. */
const leaking = (day: number): number => wobble(day) * (day < 60 || day >= 100 ? 0.05 : Math.min(0.3, 0.05 * 6 ** ((day - 59) / 25)));
const limitsAhead = (rows: readonly DayRow[], mended: boolean, nitrogenAt = 'product'): string[] => {
  const entries = mended ? [entrySchema.parse({ id: 'v', site: 'a', generator: 'b', startedAt: new Date(START_MS + 99.9 * DAY_MS).toISOString(), finishedAt: new Date(START_MS + 100 * DAY_MS).toISOString(), replaced: ['o-rings'] })] : [];
  return aheadOf(judgeDays({ rows, entries, registered: registered(nitrogenAt), settings: DEFAULT_ANALYSIS_SETTINGS, fills: [], frozen: [], leftOut: [] }), DEFAULT_ANALYSIS_SETTINGS).forecasts.filter((one) => one.earliest !== null && Date.parse(one.earliest) < rows.at(-1)!.endMs + SOON_MS).map((one) => one.limit);
};
const days = (count: number, of: (day: number) => Parameters<typeof row>[1]): DayRow[] => Array.from({ length: count }, (_, day) => row(day, of(day)));

describe('aheadOf()', () => {
  test('dates a growing run time, and nothing from before the visit that mended it', () => {
    expect(limitsAhead(days(85, (day) => ({ duty: leaking(day) })), false)).toContain('dutyRatio');
    expect(limitsAhead(days(112, (day) => ({ duty: leaking(day) })), true)).toEqual([]);
  });

  test('dates no limit of nitrogen where every run is too short to be judged, unless it is measured in the tank', () => {
    const poor = (longestRunS: number): DayRow[] => days(60, (day) => ({ duty: 0.05 * wobble(day), nitrogen: 0.977 + 0.0005 * Math.sin(3 * day), longestRunS }));
    expect(limitsAhead(poor(900), false)).toContain('nitrogen');
    expect(limitsAhead(poor(350), false)).not.toContain('nitrogen');
    expect(limitsAhead(poor(350), false, 'tank')).toContain('nitrogen');
  });

  const aheadFor = (rows: readonly DayRow[], nitrogenAt = 'product') => aheadOf(judgeDays({ rows, entries: [], registered: registered(nitrogenAt), settings: DEFAULT_ANALYSIS_SETTINGS, fills: [], frozen: [], leftOut: [] }), DEFAULT_ANALYSIS_SETTINGS);

  test('counts the last days past a limit that broke yesterday, which is in no trend, and forgets it after a week', () => {
    const broken = (from: number, to: number): DayRow[] => days(60, (day) => ({ duty: day >= from && day < to ? 0.8 : 0.05 * wobble(day) }));
    expect(aheadFor(broken(59, 60)).pastOfLate).toEqual({ dutyRatio: 1 / 3 });
    expect(aheadFor(broken(57, 60)).pastOfLate).toEqual({ dutyRatio: 1 });
    expect(aheadFor(broken(40, 50)).pastOfLate).toEqual({});
  });

  test('holds delivery against a rating of a steady flow: of short runs more is the filling of bowls', () => {
    const parsed = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone: 'UTC', generators: [{ id: 'b', tankLitres: 100, ratedNLPerMin: 20 }] }] }));
    if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
    const declining = (runS: number): DayRow[] => days(90, (day) => ({ duty: 0.05 * wobble(day) })).map((one, day) => ({ ...one, unit: 'NL/min', starts: one.runS / runS, demand: { value: 0.8, se: 0.01 }, delivery: { value: (17 - 0.025 * day) * (1 + 0.004 * Math.sin(5 * day)), se: 0.1 } }));
    const earliest = (runS: number): number => Date.parse(aheadOf(judgeDays({ rows: declining(runS), entries: [], registered: generatorsOf(parsed.registry)[0]!, settings: DEFAULT_ANALYSIS_SETTINGS, fills: [], frozen: [], leftOut: [] }), DEFAULT_ANALYSIS_SETTINGS).forecasts.find((one) => one.limit === 'deliveryShare')!.earliest!);
    // 4 % of a run of five minutes is as much as it declines in four weeks.
    expect((earliest(300) - earliest(6000)) / DAY_MS).toBeGreaterThan(10);
  });

  test('takes no rating for missed where bursts that go on in runs hide what is made', () => {
    const parsed = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone: 'UTC', generators: [{ id: 'b', tankLitres: 100, ratedNLPerMin: 20 }] }] }));
    if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
    const past = (burstShare: number) => aheadOf(judgeDays({ rows: days(60, (day) => ({ duty: 0.05 * wobble(day) })).map((one, day) => ({ ...one, unit: 'NL/min' as const, burstShare, demand: { value: 0.6, se: 0.01 }, delivery: { value: 12 * wobble(day), se: 0.1 } })), entries: [], registered: generatorsOf(parsed.registry)[0]!, settings: DEFAULT_ANALYSIS_SETTINGS, fills: [], frozen: [], leftOut: [] }), DEFAULT_ANALYSIS_SETTINGS).pastOfLate;
    expect(past(0.1)).toEqual({ deliveryShare: 1 });
    expect(past(0.9)).toEqual({});
  });

  test('takes no limit for passed by a drop that no elements can hold back: a gauge errs', () => {
    const dropping = (kPa: number): DayRow[] => days(60, (day) => ({ duty: 0.05 * wobble(day) })).map((one, day) => ({ ...one, elementDropKPa: { value: day < 55 ? 9 : kPa, se: 0.5 } }));
    expect(aheadFor(dropping(95)).pastOfLate).toEqual({ elementDropKPa: 1 });
    expect(aheadFor(dropping(805)).pastOfLate).toEqual({});
  });

  test('names the day on which service is due the same at the site and in lists by UTC', () => {
    const dueIn = (timeZone: string): string[] => {
      const parsed = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone, generators: [{ id: 'b', serviceEvery: { days: 365 }, fitted: { 'coalescing-element': '2026-02-03' } }] }] }));
      if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
      const { dueBy } = aheadOf(judgeDays({ rows: days(60, (day) => ({ duty: 0.05 * wobble(day) })), entries: [], registered: generatorsOf(parsed.registry)[0]!, settings: DEFAULT_ANALYSIS_SETTINGS, fills: [], frozen: [], leftOut: [] }), DEFAULT_ANALYSIS_SETTINGS);
      return ['UTC', timeZone].map((zone) => new Date(dueBy!).toLocaleDateString('en-CA', { timeZone: zone }));
    };
    for (const zone of ['America/Anchorage', 'Europe/Rome', 'Asia/Tokyo', 'Pacific/Honolulu']) expect(dueIn(zone)).toEqual(['2027-02-03', '2027-02-03']);
  });

  test('says which limits nobody sees: what is not sent, and purity of runs that are too short', () => {
    const sends = (longestRunS: number): DayRow[] => days(60, (day) => ({ duty: 0.05 * wobble(day), nitrogen: 0.99 + 0.0005 * Math.sin(3 * day), longestRunS }));
    expect(aheadFor(sends(900)).unseen).toEqual(['elementDropKPa']);
    expect(aheadFor(sends(350)).unseen).toEqual(['elementDropKPa', 'nitrogen']);
    expect(aheadFor(days(60, (day) => ({ duty: 0.05 * wobble(day) }))).unseen).toEqual(['elementDropKPa', 'nitrogen']);
  });

  test('holds the crossing of a run time that rises in a straight line, which growth in proportion alone would date early', () => {
    // 10 % to 25 % in 60 days in a straight line: the limit of 50 % lies 100 days ahead.
    const likely = aheadFor(days(60, (day) => ({ duty: wobble(day) * (0.1 + 0.0025 * day) }))).forecasts.find((one) => one.limit === 'dutyRatio')!;
    const ahead = (iso: string | null): number => (iso === null ? Infinity : (Date.parse(iso) - (START_MS + 60 * DAY_MS)) / DAY_MS);
    expect(ahead(likely.earliest)).toBeLessThan(100);
    expect(ahead(likely.latest)).toBeGreaterThan(100);
  });

  test('takes a step for no slope: run time that doubled once and stays has no likely date', () => {
    const stepped = aheadFor(days(66, (day) => ({ duty: wobble(day) * (day < 60 ? 0.1 : 0.25) }))).forecasts.find((one) => one.limit === 'dutyRatio')!;
    expect([stepped.likely, stepped.quarterFrom]).toEqual([null, null]);
  });

  test('dates run time by a delivery that declines, where demand wanders too much for run time to show it', () => {
    // Delivery loses 35 % in 90 days, more from month to month; run time wanders by a fifth for weeks and stands at 30 % in the end.
    const made = (day: number): number => 20 * (1 - 0.35 * (day / 90) ** 2);
    const drawn = (day: number): number => 3.9 * (1 + 0.2 * Math.sin(day / 9)) * wobble(day);
    const rows = (declines: boolean): DayRow[] => Array.from({ length: 90 }, (_, day) => ({ ...row(day, { duty: drawn(day) / (declines ? made(day) : 13) }), unit: 'NL/min' as const, delivery: { value: declines ? made(day) * (1 + 0.004 * Math.sin(5 * day)) : 13, se: 0.05 }, demand: { value: drawn(day), se: 0.05 } }));
    const quarterFrom = (declines: boolean): string | null => aheadFor(rows(declines)).forecasts.find((one) => one.limit === 'dutyRatio')!.quarterFrom;
    expect(quarterFrom(true)).not.toBeNull();
    expect(quarterFrom(false)).toBeNull();
  });
});
