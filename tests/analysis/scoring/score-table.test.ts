// Issue: what a campaign says is added up from worlds alone (issue 3: table, curve, confusion, reliability, pictures).
import * as fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { compareScores, compareText } from '../../../analysis/scoring/compare-scores.ts';
import { listText } from '../../../analysis/scoring/list-text.ts';
import { quantileOf } from '../../../analysis/scoring/quantile.ts';
import { reliabilityOf } from '../../../analysis/scoring/reliability.ts';
import { effectOn, largestEffect } from '../../../analysis/scoring/run-time.ts';
import { scorePage } from '../../../analysis/scoring/score-page.ts';
import { scoreTable } from '../../../analysis/scoring/score-table.ts';
import { scoreText } from '../../../analysis/scoring/score-text.ts';
import { scoreWorld, type WatchedGenerator, type WorldScore } from '../../../analysis/scoring/score-world.ts';
import { purposeOfSeed, worldSeeds } from '../../../analysis/scoring/seeds.ts';
import { parseTruth } from '../../../analysis/scoring/truth.ts';
import { DAY_MS } from '../../../shared/time.ts';
import { at, fault, finding, START_MS } from './hand-made.ts';

const DAYS = 100;
/** Runs an hour a day; a fault from day 20 on makes it `times` as much. */
function watched(generator: string, times = 1): WatchedGenerator {
  const withoutS = Array.from({ length: DAYS }, () => 3600);
  return { site: 'quay', generator, channels: ['running', 'tank-pressure', 'discharge-pressure', 'feed-pressure', 'nitrogen'], fromMs: START_MS, untilMs: START_MS + DAYS * DAY_MS, runTimes: { startMs: START_MS, withoutS, withFaultsS: withoutS.map((s, day) => (day < 20 ? s : s * times)) } };
}
function world(): WorldScore {
  return scoreWorld({
    truth: { faults: [fault('leak', 20), { ...fault('compressor-side', 20, { severity: 'barely', end: at(70) }), generator: 'gen-2' }], upsets: [], branches: [] },
    watched: [watched('gen-1', 1.3), watched('gen-2', 1.03), watched('gen-3')],
    findings: [finding('a', 24, 'leak'), { ...finding('b', 50, 'element-loading', { probability: 0.6 }), generator: 'gen-3' }],
    reports: [],
  });
}

describe('scoreTable()', () => {
  const table = scoreTable([world(), world()]);

  test('adds worlds up: found, missed, delay, effect when found', () => {
    expect(table.all).toMatchObject({ faults: 4, found: 2, missed: 2, named: 2, apart: 0, foundShare: 0.5, delayMedianH: 96, delay90H: 96 });
    expect(Math.exp(table.all.effectAtFinding!)).toBeCloseTo(1.3, 6);
    expect(table.byCause.map((row) => [row.cause, row.found, row.missed, row.falseFindings, row.falseGenerators])).toEqual([['leak', 2, 0, 0, 0], ['element-loading', 0, 0, 2, 2], ['compressor-side', 0, 2, 0, 0]]);
    expect(table.falseGenerators).toBe(2);
    expect(table.bySeverity.map((row) => [row.severity, row.foundShare])).toEqual([['barely', 0], ['plain', 1]]);
  });

  test('counts false findings over all time, and healthy ones over healthy time', () => {
    expect(table.falseFindings).toMatchObject({ count: 2 });
    expect(table.falseFindings.years).toBeCloseTo((600 * 1) / 365.25, 9);
    // gen-1 is without fault for 20 days, gen-2 for 50, gen-3 for all 100.
    expect(table.falseWhileHealthy.years).toBeCloseTo((2 * 170) / 365.25, 9);
    expect(table.falseFindings.low).toBeLessThan(table.falseFindings.perYear);
  });

  test('draws the curve from the largest change of run time', () => {
    expect(table.curve).toEqual([{ from: 0.02, to: 0.05, faults: 2, found: 0, share: 0 }, { from: 0.2, to: 0.5, faults: 2, found: 2, share: 1 }]);
  });

  test('sets the truth beside what was said, with misses and false findings in it', () => {
    expect(table.confusion).toEqual(expect.arrayContaining([{ truth: 'leak', said: 'leak', count: 2 }, { truth: 'compressor-side', said: 'nothing', count: 2 }, { truth: 'none', said: 'element-loading', count: 2 }]));
    expect(table.confusion.reduce((sum, cell) => sum + cell.count, 0)).toBe(6);
  });

  test('asks stated probabilities whether they came true', () => {
    expect(table.reliability).toMatchObject({ count: 4 });
    // 0.9 came true each time, 0.6 never: off by (0.1 + 0.6) / 2.
    expect(table.reliability.calibrationError).toBeCloseTo(0.35, 12);
  });

  test('is plain JSON: what is kept and read again gives the same table', () => {
    expect(scoreTable(JSON.parse(JSON.stringify([world(), world()])) as WorldScore[])).toEqual(table);
    expect(JSON.parse(JSON.stringify(table))).toEqual(table);
  });

  test('of no worlds is empty, not NaN', () => {
    expect(JSON.stringify(scoreTable([]))).not.toContain('NaN');
    expect(scoreText(scoreTable([]))).not.toMatch(/NaN|Infinity|undefined/);
  });
});

test('scoreText() and listText() tell what is in the worlds', () => {
  const text = scoreText(scoreTable([world()]));
  expect(text).toMatch(/\| leak +\| +1 \| +1 \| +0 \|/);
  expect(text).not.toMatch(/NaN|Infinity|undefined/);
  const list = listText([{ name: 'by hand', score: world() }]);
  expect(list).toContain('quay/gen-3 2026-02-20T00:00 to open: element-loading 60 %');
  expect(list).toContain('made by hand');
  expect(list).toContain('quay/gen-2 compressor-side, barely step, 2026-01-21T00:00 to 2026-03-12T00:00: run time changed by 3 % at most');
});

test('scorePage() needs nothing from elsewhere, and escapes what it is told', () => {
  const page = scorePage({ head: 'seeds <1> & "2"', table: scoreTable([world()]) });
  expect(page).toContain('seeds &lt;1&gt; &amp; &quot;2&quot;');
  expect(page).not.toMatch(/(src|href)=|url\(|@import|<script|https?:/);
  expect(page.match(/<svg /g)).toHaveLength(6);
  expect(page).not.toMatch(/NaN|Infinity|undefined/);
  expect(scorePage({ head: 'none', table: scoreTable([]) })).not.toMatch(/NaN|Infinity|undefined/);
});

test('compareScores() says what gets better and what worse, and nothing of what stays', () => {
  const better = scoreTable([{ ...world(), findings: world().findings.filter((one) => one.outcome !== 'false') }]);
  const compared = compareScores(scoreTable([world()]), better);
  expect(compared.filter((one) => one.better !== null).map((one) => [one.measure, one.better])).toEqual(expect.arrayContaining([['false findings a generator-year', 'b']]));
  expect(compared.find((one) => one.measure === 'found share')).toMatchObject({ better: null });
  expect(compareText(compared, ['before.yaml', 'after.yaml'])).toMatch(/false findings a generator-year +\| +\d/);
  expect(compareText(compareScores(better, better), ['a', 'b'])).toBe('No measure differs.');
});

test('effectOn() looks at whole days alone, largestEffect() at the worst week', () => {
  const { runTimes } = watched('gen-1', 2);
  expect(effectOn(runTimes!, START_MS + 20 * DAY_MS, START_MS + 27 * DAY_MS)).toBeCloseTo(Math.log(2), 12);
  expect(effectOn(runTimes!, START_MS + 20.5 * DAY_MS, START_MS + 21 * DAY_MS)).toBeUndefined();
  expect(largestEffect(runTimes!, START_MS + 10 * DAY_MS, START_MS + 40 * DAY_MS)).toBeCloseTo(Math.log(2), 12);
  expect(effectOn({ startMs: START_MS, withFaultsS: [0, 0], withoutS: [3600, 3600] }, START_MS, START_MS + 2 * DAY_MS)).toBeCloseTo(Math.log(120), 12);
  expect(effectOn({ startMs: START_MS, withFaultsS: [10], withoutS: [0] }, START_MS, START_MS + DAY_MS)).toBeUndefined();
});

test('reliabilityOf() is 0 for honest statements and large for boasts', () => {
  const honest = Array.from({ length: 100 }, (_, index) => ({ probability: 0.85, right: index < 85 }));
  expect(reliabilityOf(honest).calibrationError).toBeCloseTo(0, 12);
  expect(reliabilityOf([{ probability: 1, right: false }])).toMatchObject({ calibrationError: 1, brier: 1, bins: [{ from: 0.9, to: 1, count: 1 }] });
});

test('quantileOf() lies between neighbours, and gives nothing for nothing', () => {
  expect(quantileOf([3, 1, 2, 4], 0.5)).toBe(2.5);
  expect(quantileOf([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11], 0.9)).toBe(10);
  expect(quantileOf([], 0.5)).toBeUndefined();
  expect(quantileOf([1, Infinity, Infinity], 0.5)).toBe(Infinity);
});

test('worldSeeds() never gives a tuning seed for reporting, and no campaign shares a world with another', () => {
  fc.assert(
    fc.property(fc.integer({ min: 0, max: 1e5 }), fc.integer({ min: 0, max: 1e5 }), fc.integer({ min: 1, max: 60 }), (one, other, count) => {
      const reporting = worldSeeds(one, 'reporting', count);
      const tuning = worldSeeds(one, 'tuning', count);
      expect(reporting.every((seed) => purposeOfSeed(seed) === 'reporting') && tuning.every((seed) => purposeOfSeed(seed) === 'tuning')).toBe(true);
      expect(worldSeeds(one, 'reporting', count + 1).slice(0, count)).toEqual(reporting);
      if (one !== other) expect(worldSeeds(other, 'reporting', count).some((seed) => reporting.includes(seed))).toBe(false);
    }),
  );
  expect(() => worldSeeds(1.5, 'tuning', 1)).toThrow(RangeError);
  expect(() => worldSeeds(1, 'tuning', 0)).toThrow(RangeError);
});

test('parseTruth() reads the shape of the design, passes over more, and lists what is wrong', () => {
  const one = { site: 'a', generator: 'b', cause: 'leak', onset: at(1), knowableAt: null, end: null, endedBy: null, severity: 'plain', shape: 'step', more: 1 };
  expect(parseTruth({ faults: [one], upsets: [], branches: [{ at: at(30), site: 'a', generator: 'b', lossHours: 3, crossings: { dutyRatio: null } }] })).toMatchObject({ truth: { faults: [{ cause: 'leak' }], branches: [{ lossHours: 3 }] } });
  expect(parseTruth({ faults: [{ ...one, cause: 'gremlins' }] })).toMatchObject({ problems: [{ where: 'faults.0.cause' }] });
});
