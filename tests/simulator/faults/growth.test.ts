// Source: three growing leaks of Vrachimis et al. 2022 (data/growing-leaks.csv, EUPL 1.2): daily flow from start to peak.
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { assert, double, property } from 'fast-check';
import { expect, test } from 'vitest';
import { GROWTHS, growthShare } from '../../../simulator/faults/growth.ts';
import { faultShare } from '../../../simulator/faults/table.ts';

const rows = readFileSync(fileURLToPath(new URL('data/growing-leaks.csv', import.meta.url)), 'utf8').split('\n').filter((line) => /^p\d/.test(line)).map((line) => line.split(','));

// A day's mean of what swings with water pressure lies up to 0.02 of the peak off; the last day is still short of the peak.
test.each(['p800', 'p653', 'p123'])('growthShare() quickens as leak %s did', (leak) => {
  const flows = rows.filter((row) => row[0] === leak).map((row) => Number(row[2]));
  expect(flows.length).toBeGreaterThan(20);
  const peak = flows.at(-1)! / growthShare('quickening', (flows.length - 0.5) / flows.length);
  flows.forEach((flow, day) => expect(Math.abs(flow / peak - growthShare('quickening', (day + 0.5) / flows.length))).toBeLessThan(0.025));
});

test('growthShare() goes from 0 to 1 and never back, in each way', () => {
  for (const growth of GROWTHS) {
    expect(growthShare(growth, -1)).toBe(0);
    expect(growthShare(growth, 2)).toBe(1);
    assert(property(double({ min: 0, max: 1, noNaN: true }), double({ min: 0, max: 1, noNaN: true }), (a, b) => growthShare(growth, Math.min(a, b)) <= growthShare(growth, Math.max(a, b)) + 1e-12));
  }
  expect(growthShare('quickening', 0.5)).toBeLessThan(0.3);
  expect(growthShare('slowing', 0.5)).toBeGreaterThan(0.7);
});

test('faultShare() leaves a share of a fault that a visit only made smaller', () => {
  const fault = { cause: 'leak', severity: 'plain', shape: 'ramp', fromDay: 10, growDays: 20, badlyMended: { fromDay: 40, share: 0.4 } } as const;
  expect(faultShare(fault, 9)).toBe(0);
  expect(faultShare(fault, 20)).toBe(0.5);
  expect(faultShare(fault, 39)).toBe(1);
  expect(faultShare(fault, 41)).toBe(0.4);
});
