// Issue: "A diagnosis that holds up", item 7: runs, rests and slopes out of raw readings. All by hand.
import { expect, test } from 'vitest';
import { riseShare, riseShares } from '../../../analysis/verify/run-shape.ts';
import { slopePerMin, slopeWindows, usualOf } from '../../../analysis/verify/slope-windows.ts';
import { restsOfTank, type Sample, type Span, spansOf, within } from '../../../analysis/verify/tracks.ts';

const MIN = 60_000;
const at = (minutes: number, value: number): Sample => [minutes * MIN, value];

test('spansOf() makes runs and rests, and cuts them where nothing was heard for more than 75 min', () => {
  expect(spansOf([at(0, 0), at(10, 1), at(15, 1), at(20, 0), at(70, 0), at(200, 0), at(210, 1)], 220 * MIN)).toEqual([
    { running: false, fromMs: 0, toMs: 10 * MIN, began: false, ended: true },
    { running: true, fromMs: 10 * MIN, toMs: 20 * MIN, began: true, ended: true },
    { running: false, fromMs: 20 * MIN, toMs: 70 * MIN, began: true, ended: false },
    { running: false, fromMs: 200 * MIN, toMs: 210 * MIN, began: false, ended: true },
    { running: true, fromMs: 210 * MIN, toMs: 220 * MIN, began: true, ended: false },
  ]);
});

test('restsOfTank() takes stretches without a rise, and not the interval right after one', () => {
  const tank = [at(0, 600), at(5, 595), at(10, 640), at(15, 700), at(20, 690), at(25, 685), at(30, 680)];
  expect(restsOfTank(tank).map(({ fromMs, toMs }) => [fromMs / MIN, toMs / MIN])).toEqual([[20, 30]]);
});

test('within() takes both edges', () => {
  expect(within([at(0, 1), at(5, 2), at(10, 3)], 0, 5 * MIN).map(([, value]) => value)).toEqual([1, 2]);
  expect(within(undefined, 0, 1)).toEqual([]);
});

test('slopePerMin() fits a line, and has none of two readings or of one moment', () => {
  expect(slopePerMin([at(0, 10), at(1, 8), at(2, 6), at(5, 0)])).toBeCloseTo(-2, 12);
  expect(slopePerMin([at(0, 10), at(1, 8)])).toBeUndefined();
  expect(slopePerMin([at(1, 1), at(1, 2), at(1, 3)])).toBeUndefined();
});

test('slopeWindows() lays windows end to end after the settling, whatever the beat of reports', () => {
  const falling = (everyMin: number): Sample[] => Array.from({ length: 240 / everyMin }, (_, index) => at(index * everyMin, 700 - 2 * index * everyMin));
  const span = { fromMs: 0, toMs: 240 * MIN };
  for (const everyMin of [1, 5, 10, 15]) {
    const windows = slopeWindows(falling(everyMin), [span], 30 * MIN, 3 * MIN);
    expect([everyMin, windows.length >= 5]).toEqual([everyMin, true]);
    for (const window of windows) {
      expect(window.fromMs).toBeGreaterThanOrEqual(3 * MIN);
      expect(window.slope).toBeCloseTo(-2, 9);
    }
  }
  // A run whose start was lost: no window spans its rise.
  const lost = [at(0, 700), at(10, 690), at(20, 680), at(30, 700), at(40, 690), at(50, 680)];
  expect(slopeWindows(lost, [{ fromMs: 0, toMs: 60 * MIN }], 20 * MIN, 0, 3).map(({ fromMs, toMs }) => [fromMs / MIN, toMs / MIN])).toEqual([[0, 20], [30, 50]]);
});

test('usualOf() wants 30 windows', () => {
  const values = Array.from({ length: 30 }, (_, index) => index);
  expect(usualOf(values.slice(1))).toBeUndefined();
  expect(usualOf(values)).toMatchObject({ middle: 14.5, count: 30 });
});

test('riseShares() compares at equal pressure, and leaves out what follows a lost stop', () => {
  // The tank rises ever more slowly: 10 kPa/min below 600, 5 above.
  const tank: Sample[] = [];
  const runs: Span[] = [];
  for (let run = 0; run < 8; run += 1) {
    const from = run * 100;
    for (let minute = 0; minute <= 25; minute += 1) tank.push(at(from + minute, minute <= 5 ? 550 + 10 * minute : 600 + 5 * (minute - 5)));
    // Its stop was lost: the readings after it fall, in what is still called a run.
    for (const minute of [30, 35, 40]) tank.push(at(from + minute, 700 - (minute - 25)));
    runs.push({ running: true, fromMs: from * MIN, toMs: (from + 40) * MIN, began: true, ended: true });
  }
  const { values } = riseShares(tank, runs);
  expect(values).toHaveLength(8);
  for (const share of values) expect(share).toBeCloseTo(1, 1);
  // Seen from its start and falling all the way: nothing arrives. Seen only after its stop: nothing can be said.
  const { usual } = riseShares(tank, runs);
  const falling = Array.from({ length: 20 }, (_, minute) => at(2000 + minute, 640 - minute));
  expect(riseShare(falling, { running: true, fromMs: 1999 * MIN, toMs: 2020 * MIN, began: true, ended: false }, usual)).toBeLessThan(0);
  expect(riseShare(falling, { running: true, fromMs: 1970 * MIN, toMs: 2020 * MIN, began: true, ended: false }, usual)).toBeUndefined();
});
