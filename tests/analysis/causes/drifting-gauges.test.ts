// Issue: gauges that drift by themselves are told as that, set right, and become no loaded element and no loss (design, section 6: an ageing cell reads less oxygen, so nitrogen looks better).
import { beforeAll, describe, expect, test } from 'vitest';
import { agedCell, cleanerThanClean, driftedPiping, setRight, zeroDrifts } from '../../../analysis/causes/drifting-gauges.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { type RegisteredGenerator, unclaimedGenerator } from '../../../shared/registry.ts';
import { DAY_MS, HOUR_MS } from '../../../shared/time.ts';
import { lived, START_MS } from './lived-world.ts';

const REGISTERED = unclaimedGenerator('a/b' as GeneratorKey);
const estimate = (value: number): { value: number; se: number } => ({ value, se: 0.1 });
type Day = { readonly starts?: number; readonly rest: number; readonly run: number; readonly drop?: number; readonly feedRest?: number };
const rowsOf = (days: readonly Day[]): DayRow[] => days.map(({ rest, run, starts = 9, drop = 12, feedRest = -1 }, index) => ({ startMs: index * DAY_MS, endMs: (index + 1) * DAY_MS, starts, restS: 80_000, coveredS: 86_400, holdingRatio: 1, dischargeRestKPa: rest, feedRestKPa: feedRest, dischargeKPa: estimate(run), feedKPa: estimate(run - drop), elementDropKPa: estimate(drop) }) as unknown as DayRow);
const good = Array.from({ length: 14 }, (_, index): Day => ({ rest: -1 + 0.2 * (index % 2), run: 730 }));
const drifted = (by: number, days = 5): Day[] => Array.from({ length: days }, () => ({ rest: -1 + by, run: 730 + by, drop: 12 + by }));

describe('zeroDrifts()', () => {
  test('names the gauge that no longer comes down to where it did, either way', () => {
    expect(zeroDrifts(rowsOf([...good, ...drifted(9)]), REGISTERED)).toEqual([{ gauge: 'discharge', wasKPa: expect.closeTo(-0.9, 1), isKPa: 8, sinceMs: 14 * DAY_MS, leastRestS: expect.closeTo(6222, 0) }]);
    expect(zeroDrifts(rowsOf([...good, ...drifted(-9)]), REGISTERED)).toMatchObject([{ gauge: 'discharge', isKPa: -10 }]);
  });

  test.each<[string, readonly Day[], RegisteredGenerator]>([
    ['an offset within what temperature does', drifted(3), REGISTERED],
    ['two days', drifted(9, 2), REGISTERED],
    ['rests that are too short to come down in', drifted(9).map((day) => ({ ...day, starts: 30 })), REGISTERED],
    ['gas that stays in at rest and leaves runs as they were', Array.from({ length: 8 }, () => ({ rest: 40, run: 730 })), REGISTERED],
    ['behind an air receiver, where the elements stay under pressure', drifted(9), { ...REGISTERED, generator: { ...REGISTERED.generator, layout: 'air-receiver' } }],
  ])('is silent at %s', (_, last, registered) => {
    expect(zeroDrifts(rowsOf([...good, ...last]), registered)).toEqual([]);
  });

  test('takes neither gas that runs back past a check valve nor a housing that had no time to empty for a drift of the gauge after the elements', () => {
    const fed = (more: readonly Day[], fallS: number, starts = 9): DayRow[] => rowsOf([...good, ...more]).map((row, index) => ({ ...row, starts: index < good.length ? 9 : starts, feedFallS: estimate(index < good.length ? 240 : fallS) }));
    // The feed side stays up at rest by 20 kPa, the drop in runs as it was.
    expect(zeroDrifts(fed(Array.from({ length: 6 }, () => ({ rest: -1, run: 730, feedRest: 19 })), 260), REGISTERED)).toEqual([]);
    // It empties in 25 min to a thousandth, and the rests last 20.
    expect(zeroDrifts(fed(Array.from({ length: 6 }, () => ({ rest: -1, run: 730, feedRest: 11, drop: 0 })), 240, 66), REGISTERED)).toEqual([]);
    // The same with time enough, and the drop smaller by as much: the gauge.
    expect(zeroDrifts(fed(Array.from({ length: 6 }, () => ({ rest: -1, run: 730, feedRest: 11, drop: 0 })), 240), REGISTERED)).toMatchObject([{ gauge: 'feed', isKPa: 11 }]);
  });

  test('goes by the days before while rests are short, and does not take what is seen then for a zero', () => {
    const purging = Array.from({ length: 4 }, (): Day => ({ rest: 30, run: 740, drop: 21, starts: 40 }));
    const rows = rowsOf([...good, ...drifted(9), ...purging]);
    const found = zeroDrifts(rows, REGISTERED);
    expect(found).toMatchObject([{ gauge: 'discharge', isKPa: 8 }]);
    expect(setRight(rows, found).at(-1)!.elementDropKPa!.value).toBeCloseTo(12, 0);
  });

  test('setRight() takes from each day what its own zero is off by', () => {
    const rows = rowsOf([...good, ...drifted(9), { rest: 19, run: 750, drop: 32 }]);
    const right = setRight(rows, zeroDrifts(rows, REGISTERED));
    expect(right.slice(-2).map((row) => row.elementDropKPa!.value)).toEqual([expect.closeTo(12, 0), expect.closeTo(12, 0)]);
    expect(right.at(-1)!.feedKPa).toEqual(rows.at(-1)!.feedKPa);
    expect(setRight(rows, [])).toBe(rows);
  });
});

describe('agedCell()', () => {
  const cell = (dip: number, nitrogen: number, more: Partial<DayRow> = {}): DayRow => ({ starts: 9, coveredS: 86_400, holdingRatio: 1, nitrogenDip: estimate(dip), nitrogen: estimate(nitrogen), demand: estimate(2), delivery: estimate(28), ...more }) as unknown as DayRow;
  const days = (last: DayRow): DayRow[] => [...Array.from({ length: 28 }, (_, index) => cell(0.03 + 0.004 * (index % 3), 0.987)), ...Array.from({ length: 14 }, () => last)].map((row, index) => ({ ...row, startMs: index * DAY_MS, endMs: (index + 1) * DAY_MS }));

  test('names the cell where dip and oxygen shrink together', () => {
    expect(agedCell(days(cell(0.015, 0.99)), [], 0)).toMatchObject({ slot: 'sensor', cause: 'sensor-fault', aside: true, evidence: [{ says: expect.stringMatching(/^As runs begin nitrogen dips by 1\.50 %, where it dipped by 3\.40 %, and reads 99\.00 % after 98\.70 % at their end/) }] });
  });

  test.each([
    ['a membrane that parts better: the dip is as it was', cell(0.034, 0.992)],
    ['nitrogen that gets poorer', cell(0.015, 0.98)],
    ['a leak: rests are shorter, and less air comes in', cell(0.02, 0.988, { demand: estimate(3.5) })],
    ['a delivery that fell', cell(0.02, 0.99, { delivery: estimate(24) })],
  ])('is silent at %s', (_, last) => {
    expect(agedCell(days(last), [], 0)).toBeUndefined();
  });

  test('begins anew with a new cell', () => {
    const visit = { id: 'v', site: 'a', generator: 'b', kind: 'service', startedAt: new Date(28 * DAY_MS).toISOString(), finishedAt: new Date(28 * DAY_MS + HOUR_MS).toISOString(), recordedAt: new Date(28 * DAY_MS + HOUR_MS).toISOString(), replaced: ['oxygen-sensor'], adjusted: {}, readings: {} } as never;
    expect(agedCell(days(cell(0.015, 0.99)), [visit], 0)).toBeUndefined();
  });
});

describe('driftedPiping()', () => {
  const days = (kPa: number, demand: number, channel = 'system-pressure'): DayRow[] => Array.from({ length: 45 }, (_, index) => ({ startMs: index * DAY_MS, endMs: (index + 1) * DAY_MS, starts: 9, coveredS: 86_400, holdingRatio: 1, unit: 'NL/min', heard: { [channel]: 288 }, systemKPa: estimate(index < 31 ? 240 : kPa), demand: estimate((index < 31 ? 2 : demand) * (1 + 0.04 * (index % 3))) }) as unknown as DayRow);

  test('names the gauge where as much is drawn as before at a pressure that would leak less or more', () => {
    expect(driftedPiping(days(180, 2), 0)).toMatchObject({ aside: true, evidence: [{ says: 'The piping reads 180 kPa after 240 kPa, and as much is drawn as before, where 18 % less would leak at such a pressure: its gauge has drifted.' }] });
    expect(driftedPiping(days(310, 2), 0)).toMatchObject({ cause: 'sensor-fault', hides: ['supply'] });
  });

  test('is silent where the last week says nothing of demand', () => {
    const unknown = (count: number): DayRow[] => days(180, 2).map((row, index) => (index < 45 - count ? row : { ...row, demand: null }));
    expect(driftedPiping([...days(180, 2), ...unknown(7).slice(-7).map((row, index) => ({ ...row, startMs: (45 + index) * DAY_MS, endMs: (46 + index) * DAY_MS }))], 0)).toBeUndefined();
  });

  test.each([['piping that was let down and leaks less', days(180, 1.65)], ['a leak', days(240, 2.6)], ['a few kPa', days(225, 2)], ['several risers', days(180, 2, 'system-pressure.riser-1')]])('is silent at %s', (_, rows) => {
    expect(driftedPiping(rows, 0)).toBeUndefined();
  });
});

describe('cleanerThanClean()', () => {
  const days = (drop: (day: number) => number, delivery = 28): DayRow[] => Array.from({ length: 60 }, (_, index) => ({ startMs: index * DAY_MS, endMs: (index + 1) * DAY_MS, starts: 9, coveredS: 86_400, holdingRatio: 1, elementDropKPa: estimate(drop(index)), delivery: estimate(index < 20 ? 28 : delivery) }) as unknown as DayRow);
  const slowly = (day: number): number => 12 - Math.max(0, Math.min(8, (day - 18) * 0.4));

  test('names the gauges where the drop falls slowly below that of clean elements', () => {
    expect(cleanerThanClean(days(slowly), [], 0)).toMatchObject({ aside: true, evidence: [{ says: expect.stringContaining('fell slowly from 12 kPa, when they were clean, to 4 kPa') }] });
  });

  test.each([['elements that were taken out', days((day) => (day < 30 ? 12 : 3))], ['less flow', days(slowly, 22)], ['a drop that came and went', days((day) => (day > 20 && day < 40 ? 40 - day / 2 : 12))]])('is silent at %s', (_, rows) => {
    expect(cleanerThanClean(rows, [], 0)).toBeUndefined();
  });
});

// World: seed 5, five generators; a cell that wears out, gauges whose zeros drift from the 40th day on, a check valve that leaks, and one in good order.
describe('a world of drifting gauges', () => {
  const gen = (id: string, fault: string): string => `{ id: ${id}, channels: full, reportEveryS: 120, wander: 0.05, dutyRatio: 0.08, faults: [${fault}] }`;
  const world = `{ name: drifts, days: 105, sites: [{ id: a, generators: [
    ${gen('gen-1', '{ cause: sensor-fault, variant: ageing, severity: marked, channel: nitrogen, from: 40, growsDays: 60 }')},
    ${gen('gen-2', '{ cause: sensor-fault, variant: drift, severity: marked, channel: discharge-pressure, from: 40, growsDays: 60 }')},
    ${gen('gen-3', '{ cause: sensor-fault, variant: drift, severity: plain, channel: feed-pressure, from: 40, growsDays: 60 }')},
    ${gen('gen-4', '{ cause: check-valve-leaking, severity: marked, from: 60 }')},
    ${gen('gen-5', '')}] }] }`;
  let of: Awaited<ReturnType<typeof lived>>['of'];
  beforeAll(async () => {
    ({ of } = await lived(world, { seed: 5 }));
  }, 120_000);
  const said = (key: string): string[] => of.get(key)!.judged.map(({ finding, outcome }) => `${outcome} ${finding.cause}`);

  test.each([['a/gen-1', /the cell answers less and less/, 50], ['a/gen-2', /before the elements reads \d+ kPa;.*zero of its gauge/, 14], ['a/gen-3', /after the elements reads \d+ kPa;.*zero of its gauge/, 24]])('%s: the gauge is named, once, and nothing else', (key, words, withinDays) => {
    expect(said(key)).toEqual(['right sensor-fault']);
    const { finding } = of.get(key)!.judged[0]!;
    expect(finding.evidence[0]!.says).toMatch(words);
    expect(finding.closedAt).toBeNull();
    expect((Date.parse(finding.openedAt) - START_MS) / DAY_MS - 40).toBeLessThan(withinDays);
  });

  test('gas that runs back is no gauge, and a generator in good order is left in peace', () => {
    expect(said('a/gen-4')).toEqual(['right check-valve-leaking']);
    expect(said('a/gen-5')).toEqual([]);
    const [day] = of.get('a/gen-5')!.days.slice(10);
    // Zero, less what the least of 72 readings of a 0.5 kPa scatter is below it.
    expect(day!.dischargeRestKPa).toBeGreaterThan(-2.5);
    expect(day!.dischargeRestKPa).toBeLessThan(0);
    expect(day!.nitrogenDip!.value).toBeGreaterThan(0.01);
    expect(day!.nitrogenDip!.value).toBeLessThan(0.06);
  });
});
