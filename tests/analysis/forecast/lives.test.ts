// World: invented lives of a filter whose drop grows with the work done; pace and bend differ from life to life.
import { describe, expect, test } from 'vitest';
import { conditional } from '../../../analysis/forecast/gaussian.ts';
import { dropFromLives } from '../../../analysis/forecast/drop-lives.ts';
import { type Lived, presentAge } from '../../../analysis/forecast/element-lives.ts';
import { type FleetLives, fleetLives } from '../../../analysis/forecast/fleet-lives.ts';
import { hoursPastByAge } from '../../../analysis/forecast/hours-fitted.ts';
import { calmLevels, levelGrid, type LifePoint, placeOnGrid, workAtLevels } from '../../../analysis/forecast/life-curve.ts';
import { lifeLeft } from '../../../analysis/forecast/life-left.ts';
import { type Life, learnLives, type LivesModel } from '../../../analysis/forecast/lives-model.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { entrySchema } from '../../../shared/entry.ts';
import { parseGeneratorKey } from '../../../shared/ids.ts';
import { generatorsOf, parseRegistry } from '../../../shared/registry.ts';
import { normals, seeded } from '../change/world.ts';

const LIMIT = 70;

/** Drop 8 when clean and 70 at the end; a bend above 1 loads late. Every tenth hour, scatter 0.4. */
function drawLife(random: () => number): { readonly points: LifePoint[]; readonly end: number } {
  const normal = normals(random);
  const end = 1500 * Math.exp(0.2 * normal());
  const bend = Math.exp(0.2 * normal());
  const points: LifePoint[] = [];
  for (let work = 10; work < end; work += 10) points.push({ work, level: 8 * (LIMIT / 8) ** ((work / end) ** bend) + 0.4 * normal() });
  points.push({ work: end, level: LIMIT });
  return { points, end };
}

const asLife = ({ points }: { readonly points: LifePoint[] }, own = true): Life => ({ points, own, reachedLimit: true });
/** The life without what came after a share of it. */
const cutAt = (points: readonly LifePoint[], end: number, share: number): LifePoint[] => points.filter((point) => point.work <= share * end);

test('conditional() is the textbook answer for two numbers, and the prior where nothing was seen', () => {
  const prior = { mean: [1, 2], covariance: [Float64Array.of(4, 1.5), Float64Array.of(1.5, 1)] };
  // Rasmussen & Williams 2006, A.6: mean 2 + 1.5 / 4 · (3 − 1), variance 1 − 1.5² / 4.
  const after = conditional(prior, [{ parts: [[0, 1]], value: 3, noise: 0 }], [1]);
  expect(after.mean[0]).toBeCloseTo(2.75, 5);
  expect(after.covariance[0]?.[0]).toBeCloseTo(0.4375, 5);
  const sum = conditional(prior, [{ parts: [[0, 1], [1, 1]], value: 5, noise: 2 }], [0]);
  expect(sum.mean[0]).toBeCloseTo(1 + ((4 + 1.5) / (4 + 3 + 1 + 2)) * 2, 5);
  expect(conditional(prior, [], [0, 1])).toEqual(prior);
});

test('levelGrid(), placeOnGrid(), calmLevels() and workAtLevels() agree on where a rising level was', () => {
  const grid = levelGrid(10, 70, 16);
  expect([grid[0], grid[15]]).toEqual([10, expect.closeTo(70, 9)]);
  const { index, share } = placeOnGrid(grid, grid[4] as number);
  expect([index, share]).toEqual([4, 0]);
  const points = Array.from({ length: 100 }, (_, i) => ({ work: i, level: i }));
  const reached = workAtLevels(points, calmLevels(points, 1), grid);
  for (const [k, level] of grid.entries()) expect(reached[k]).toBeCloseTo(level, 9);
  // What falls back was reached; what was never reached isn't known.
  expect(workAtLevels([{ work: 0, level: 0 }, { work: 1, level: 30 }, { work: 2, level: 5 }], [0, 30, 5], [10, 20, 40])).toEqual([expect.closeTo(1 / 3, 9), expect.closeTo(2 / 3, 9), undefined]);
  expect(calmLevels([{ work: 0, level: 1 }, { work: 1, level: 3 }, { work: 5, level: 9 }], 2)).toEqual([1, 2, 9]);
});

// The promise: 80 % of the truths inside the 80 % range. Of 300 looks at 60 lives (they hang together); with 3 lives ranges are wider than they need be.
test.each([[3, 0.75, 0.95], [12, 0.7, 0.92]])('lifeLeft() from %d earlier lives holds the end in its 80 %% range in %d to %d, and is nearer than the mean life', (count, least, most) => {
  const random = seeded(77);
  let [inside, looks, ours, mean] = [0, 0, 0, 0];
  for (let trial = 0; trial < 60; trial++) {
    const earlier = Array.from({ length: count }, () => drawLife(random));
    const model = learnLives(earlier.map((life) => asLife(life)), LIMIT) as LivesModel;
    const usual = earlier.reduce((sum, life) => sum + life.end, 0) / count;
    const { points, end } = drawLife(random);
    for (const share of [0.3, 0.5, 0.7, 0.85, 0.95]) {
      const seen = cutAt(points, end, share);
      const left = lifeLeft(model, seen);
      if (left === undefined) throw new Error('no answer');
      const truth = end - (seen.at(-1) as LifePoint).work;
      looks++;
      if (left.p10 <= truth && truth <= left.p90) inside++;
      ours += Math.abs(left.p50 - truth);
      mean += Math.abs(Math.max(0, usual - (seen.at(-1) as LifePoint).work) - truth);
      expect([left.p10, left.p25, left.p50, left.p75, left.p90].toSorted((a, b) => a - b)).toEqual([left.p10, left.p25, left.p50, left.p75, left.p90]);
    }
  }
  expect(looks).toBe(300);
  expect(inside / looks).toBeGreaterThan(least);
  expect(inside / looks).toBeLessThan(most);
  expect(ours / mean).toBeLessThan(0.6);
});

test('learnLives() learns from lives that were ended before the limit, and needs two that reached it', () => {
  const random = seeded(5);
  const lives = Array.from({ length: 8 }, () => drawLife(random));
  const [a, b, ...rest] = lives as [ReturnType<typeof drawLife>, ReturnType<typeof drawLife>, ...ReturnType<typeof drawLife>[]];
  const ended = rest.map(({ points, end }): Life => ({ points: cutAt(points, end, 0.8), own: true, reachedLimit: false }));
  expect(learnLives([asLife(a), ...ended], LIMIT)).toBeUndefined();
  const some = learnLives([asLife(a), asLife(b), ...ended], LIMIT) as LivesModel;
  const all = learnLives(lives.map((life) => asLife(life)), LIMIT) as LivesModel;
  // Ended at 80 %, the lives still say where the middle of all ends lies: nearer than the two whole ones do.
  const two = (a.end + b.end) / 2;
  expect(Math.abs((some.reaches.mean.at(-1) as number) - (all.reaches.mean.at(-1) as number))).toBeLessThan(0.6 * Math.abs(two - (all.reaches.mean.at(-1) as number)));
});

test('learnLives() believes a life that is unlike the others less, and lives of other generators less than its own', () => {
  const random = seeded(9);
  const lives = Array.from({ length: 10 }, () => asLife(drawLife(random)));
  const plain = learnLives(lives, LIMIT)?.reaches.mean.at(-1) as number;
  const odd: Life = { points: (lives[0] as Life).points.map(({ work, level }) => ({ work: 5 * work, level })), own: true, reachedLimit: true };
  const withOdd = learnLives([...lives, odd], LIMIT)?.reaches.mean.at(-1) as number;
  const oddEnd = (odd.points.at(-1) as LifePoint).work;
  expect(withOdd - plain).toBeLessThan((0.6 * (oddEnd - plain)) / 11); // its share in a plain mean would be 1 of 11
  const slow = Array.from({ length: 10 }, () => drawLife(random)).map(({ points }): Life => ({ points: points.map(({ work, level }) => ({ work: 1.5 * work, level })), own: false, reachedLimit: true }));
  const borrowed = learnLives([...lives, ...slow], LIMIT)?.reaches.mean.at(-1) as number;
  expect(borrowed).toBeGreaterThan(plain);
  expect(borrowed - plain).toBeLessThan(0.4 * 0.5 * plain);
});

test('lifeLeft() says 0 at the limit and nothing without a value', () => {
  const random = seeded(3);
  const model = learnLives([drawLife(random), drawLife(random)].map((life) => asLife(life)), LIMIT) as LivesModel;
  expect(lifeLeft(model, [])).toBeUndefined();
  expect(lifeLeft(model, [{ work: 10, level: 8 }, { work: 1400, level: 71 }])).toEqual({ p10: 0, p25: 0, p50: 0, p75: 0, p90: 0 });
});

const DAY_MS = 86_400_000;
const PER_LIFE = 90;

/** A generator that runs 8 h a day and whose elements last `lifeDays`, loading late. */
function lived(name: string, fromDay: number, toDay: number, changes: readonly number[], lifeDays = PER_LIFE, fitted?: string): Lived {
  const generator = parseGeneratorKey(`quay-7/${name}`)!;
  const rows = Array.from({ length: toDay - fromDay }, (_, index): DayRow => {
    const day = fromDay + index;
    const since = day - (changes.findLast((one) => one <= day) ?? fromDay);
    const value = 8 * (LIMIT / 8) ** ((since / lifeDays) ** 2);
    return { generator, day: `day ${day}`, startMs: day * DAY_MS, endMs: (day + 1) * DAY_MS, provisional: false, source: 'running', coveredS: 86_400, runS: 28_800, restS: 57_600, starts: 20, dutyRatio: 1 / 3, unit: 'relative', demand: null, delivery: null, longestRunS: 900, longestRestS: 3600, cutInKPa: null, cutOutKPa: null, nitrogen: null, dischargeKPa: null, feedKPa: null, elementDropKPa: { value, se: 0.2 }, systemKPa: null, roomC: null, pipeC: null, humidityPercent: null, holdingRatio: 1, heard: {} };
  });
  const parsed = parseRegistry(JSON.stringify({ sites: [{ id: 'quay-7', generators: [{ id: name, ...(fitted === undefined ? {} : { fitted: { 'coalescing-element': fitted } }) }] }] }));
  if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
  const entries = changes.map((day) => entrySchema.parse({ id: `v${day}`, site: 'quay-7', generator: name, startedAt: new Date(day * DAY_MS).toISOString(), replaced: ['coalescing-element'] }));
  return { rows, entries, registered: generatorsOf(parsed.registry)[0]! };
}

const NOW_DAY = 330;
const daysTo = (one: Lived, fleet?: FleetLives): readonly number[] | undefined => {
  const crosses = dropFromLives({ lived: one, ...(fleet === undefined ? {} : { fleet }), limitKPa: LIMIT, nowMs: NOW_DAY * DAY_MS, horizonDays: 365 });
  return crosses && [crosses.p10, crosses.p50, crosses.p90].map((at) => ((at ?? Infinity) - NOW_DAY * DAY_MS) / DAY_MS);
};

// World: generators whose elements are changed when the drop has passed the limit; 8 h of running a day.
describe('dropFromLives()', () => {
  test('dates the limit by running hours of earlier lives, and needs two of them', () => {
    const [earliest, likely, latest] = daysTo(lived('gen-1', 0, NOW_DAY, [0, 95, 190, 285]))!;
    // 45 days into a life of 90.
    expect(likely).toBeGreaterThan(40);
    expect(likely).toBeLessThan(50);
    // Running may go on by a third slower or faster: 0.26 in the logarithm.
    expect(Math.log(likely! / earliest!)).toBeGreaterThan(1.28 * 0.26);
    expect(Math.log(latest! / likely!)).toBeGreaterThan(1.28 * 0.26);
    expect(daysTo(lived('gen-1', 190, NOW_DAY, [190, 285]))).toBeUndefined();
  });

  test("borrows lives of others of the fleet where a generator has none, and lets its own speak louder where it has", () => {
    const others = ['gen-2', 'gen-3', 'gen-4'].map((name) => lived(name, 0, NOW_DAY, [0, 95, 190, 285]));
    const first = lived('gen-1', 285, NOW_DAY, [285]);
    expect(daysTo(first)).toBeUndefined();
    const borrowed = daysTo(first, fleetLives([...others, first]))![1]!;
    expect(Math.abs(borrowed - 45)).toBeLessThan(5);
    // Its own last 180 days, and the present ones are 45 days old: at this level the others' lives say 45 days more.
    const slow = lived('gen-1', 0, NOW_DAY, [0, 185, 285], 180);
    const slowAlone = lived('gen-1', 185, NOW_DAY, [285], 180);
    const fleet = fleetLives([...others, slow]);
    expect(daysTo(slow, fleet)![1]!).toBeGreaterThan(daysTo(slowAlone, fleetLives(others))![1]!);
  });

  test('takes elements that were fitted before the first day to have run at the same rate', () => {
    const others = ['gen-2', 'gen-3'].map((name) => lived(name, 0, NOW_DAY, [0, 95, 190, 285]));
    const whole = lived('gen-1', 285, NOW_DAY, [285]);
    const fittedAt = new Date(285 * DAY_MS).toISOString().slice(0, 10);
    const late: Lived = { ...lived('gen-1', 285, NOW_DAY, [], PER_LIFE, fittedAt), rows: whole.rows.slice(20) };
    const fleet = fleetLives(others);
    expect(daysTo(late, fleet)![1]!).toBeCloseTo(daysTo(whole, fleet)![1]!, 0);
  });
});

test('fleetLives() stays the same until one more life is over, and keeps kinds apart', () => {
  const some = ['gen-2', 'gen-3'].map((name) => lived(name, 0, 300, [0, 95, 190, 285]));
  const fleet = fleetLives(some);
  expect(fleet.lives.map((life) => life.endedMs / DAY_MS)).toEqual([285, 285, 190, 190, 95, 95]);
  // A day more, in another order.
  expect(fleetLives(['gen-3', 'gen-2'].map((name) => lived(name, 0, 301, [0, 95, 190, 285])), fleet)).toBe(fleet);
  expect(fleetLives([some[0]!, lived('gen-3', 0, 301, [0, 95, 190, 285, 300])], fleet)).not.toBe(fleet);
  const sieve = some.map((one): Lived => ({ ...one, registered: { ...one.registered, generator: { ...one.registered.generator, kind: 'sieve' } } }));
  expect(daysTo(lived('gen-1', 285, NOW_DAY, [285]), fleetLives(sieve))).toBeUndefined();
});

test('hoursPastByAge() expects next to nothing of new elements, half of the time at the middle of lives, and never more than there is', () => {
  expect(hoursPastByAge(0, 2, 30)).toBeLessThan(10);
  expect(hoursPastByAge(3000, 0, 30)).toBeCloseTo(360 + 5, 6);
  expect(hoursPastByAge(1500, 20, 30)).toBeGreaterThan(hoursPastByAge(1500, 2, 30));
  expect(hoursPastByAge(40_000, 4, 30)).toBe(720);
  expect(hoursPastByAge(0, 0, 30)).toBe(5);
});

test('presentAge() counts running hours from the change on, those before the first day at the mean rate', () => {
  expect(presentAge(lived('gen-1', 0, 100, [0, 60]))).toEqual({ fromMs: 60 * DAY_MS, hoursBefore: 0, hoursRun: 40 * 8 });
  const late = presentAge(lived('gen-1', 50, 100, [], PER_LIFE, new Date(30 * DAY_MS).toISOString().slice(0, 10)))!;
  expect(late.hoursRun).toBeCloseTo(70 * 8, 6);
  expect(presentAge(lived('gen-1', 50, 100, []))).toBeUndefined();
});
