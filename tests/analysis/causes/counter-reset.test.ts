// Issue: a counter that goes back is told by name, disturbs nothing, and hours run go on from the true sum (design, section 6: sensor and data faults first).
import { describe, expect, test } from 'vitest';
import { type CounterWatch, countersSetAnew, noteCounter } from '../../../analysis/causes/counter-reset.ts';
import { serviceDue } from '../../../analysis/forecast/service-due.ts';
import { DAY_MS, HOUR_MS } from '../../../shared/time.ts';
import { lived, START_MS } from './lived-world.ts';

const HOUR_S = 3600;

function noted(name: 'run-time' | 'starts', values: readonly number[], everyMs = HOUR_MS): CounterWatch {
  return values.reduce<CounterWatch | undefined>((watch, value, index) => noteCounter(name, watch, value, START_MS + index * everyMs), undefined)!;
}
const said = (name: 'run-time' | 'starts', values: readonly number[]): string | undefined => countersSetAnew({ [name]: noted(name, values) }, START_MS + (values.length + 1) * HOUR_MS, 'UTC')[0]?.evidence[0]!.says;

describe('noteCounter()', () => {
  test('is sure of a new count once two more values have gone on from it', () => {
    const hours = [4118, 4119, 4120.3, 0.4, 0.6, 0.7].map((hour) => hour * HOUR_S);
    expect(noted('run-time', hours.slice(0, 5)).step).toBeNull();
    expect(said('run-time', hours)).toBe('The hour meter went back from 4,120.3 h to 0.4 h on 2 Mar: its counter was reset or its controller replaced; run times go on from the new count.');
    expect(said('starts', [28_840, 28_841, 2, 2, 3])).toBe('The start counter went back from 28,841 to 2 on 2 Mar: its counter was reset or its controller replaced; starts are counted on from the new count.');
  });

  test('tells a counter that came round its end, and one that was set ahead', () => {
    expect(said('run-time', [9999.2, 9999.7, 0.3, 0.5, 0.6].map((hour) => hour * HOUR_S))).toMatch(/^The hour meter came round its end, from 9,999\.7 h to 0\.3 h on 2 Mar;/);
    expect(said('starts', [65_533, 65_535, 1, 2, 2])).toMatch(/^The start counter came round its end, from 65,535 to 1/);
    expect(said('run-time', [4120, 4120, 5200.2, 5200.3, 5200.3].map((hour) => hour * HOUR_S))).toMatch(/^The hour meter jumped from 4,120\.0 h to 5,200\.2 h on 2 Mar, faster than it can count/);
  });

  test('a single wrong value, a clock that was set back and a long silence are none', () => {
    expect(said('run-time', [4120, 4120.1, 12, 4120.2, 4120.3, 4120.4].map((hour) => hour * HOUR_S))).toBeUndefined();
    expect(said('run-time', [4120, 4120.1, 9120, 4120.2, 4120.3, 4120.4].map((hour) => hour * HOUR_S))).toBeUndefined();
    expect(said('run-time', [4120, 4121, 4120.9, 4121.9, 4122].map((hour) => hour * HOUR_S))).toBeUndefined();
    expect(noted('run-time', [100, 150, 160, 170].map((hour) => hour * HOUR_S), 60 * HOUR_MS).step).toBeNull();
  });

  test('is told for three days', () => {
    const watch = noted('starts', [900, 2, 3, 4]);
    expect(countersSetAnew({ starts: watch }, START_MS + 3 * DAY_MS, 'UTC')).toHaveLength(1);
    expect(countersSetAnew({ starts: watch }, START_MS + 4 * DAY_MS, 'UTC')).toEqual([]);
  });
});

// World: seed 3, generators that send counters and tank alone, and every channel; their counters begin anew on the 31st day, or come round.
describe('a world in which counters begin anew', async () => {
  const world = (upsets: string): string => `{ name: counters, days: 44, sites: [{ id: a, generators: [
    { id: gen-1, channels: counters, wander: 0.05, dutyRatio: 0.1, compressorYears: 3, upsets: [${upsets}] },
    { id: gen-2, channels: full, wander: 0.05, dutyRatio: 0.1, compressorYears: 3, upsets: [${upsets}] },
    { id: gen-3, channels: counters, wander: 0.05, dutyRatio: 0.2, compressorYears: 5.69, counterEnds: { runTimeH: 10000 } }] }] }`;
  const RESET_DAY = 30;
  const [withReset, without] = await Promise.all([lived(world(`{ kind: counter-reset, from: ${RESET_DAY}.43, hours: 1 }`)), lived(world(''))]);

  test.each(['a/gen-1', 'a/gen-2'])('%s: said once within five hours, for three days, and nothing else is said', (key) => {
    const { judged } = withReset.of.get(key)!;
    const [first] = judged.filter(({ finding }) => finding.evidence[0]!.says.includes('went back'));
    expect(first!.finding.cause).toBe('sensor-fault');
    expect(first!.outcome).toBe('excused');
    expect((Date.parse(first!.finding.openedAt) - START_MS) / DAY_MS - (RESET_DAY + 0.43)).toBeLessThan(4.5 / 24);
    expect((Date.parse(first!.finding.closedAt!) - Date.parse(first!.finding.openedAt)) / DAY_MS).toBeCloseTo(3, 1);
    expect(first!.finding.evidence.map(({ says }) => says.slice(0, 20))).toEqual(['The hour meter went ', 'The start counter we']);
    expect(judged.filter(({ outcome }) => outcome !== 'excused')).toEqual([]);
    expect(without.of.get(key)!.findings.filter(({ evidence }) => evidence[0]!.says.includes('went back'))).toEqual([]);
  });

  test.each(['a/gen-1', 'a/gen-2'])('%s: run time across it is neither a spike nor a hole of more than a report, and hours run go on from the true sum', (key) => {
    const { days, ranS } = withReset.of.get(key)!;
    const before = without.of.get(key)!.days;
    days.slice(1).forEach((day, index) => {
      expect(Math.abs(before[index + 1]!.coveredS - day.coveredS)).toBeLessThan(index + 1 === RESET_DAY ? 3700 : 10);
      // What wasn't heard is counted as the rest of its day.
      expect(Math.abs(day.dutyRatio! - before[index + 1]!.dutyRatio!)).toBeLessThan(index + 1 === RESET_DAY ? 0.02 : 1e-3);
    });
    const [first] = days.slice(1);
    const due = serviceDue({ every: { runHours: 2000 }, sinceMs: first!.startMs, days: days.slice(1), nowMs: days.at(-1)!.endMs })!;
    const trueH = ranS.slice(1, days.length).reduce((sum, one) => sum + one, 0) / 3600;
    // Of 100 h the hour that was not heard, and the edges of runs.
    expect(Math.abs(due.runHours! - trueH)).toBeLessThan(0.5);
  });

  test('a counter that comes round its end is a sign in the truth, and said', () => {
    const { judged } = withReset.of.get('a/gen-3')!;
    expect(judged.map(({ outcome }) => outcome)).toEqual(['excused']);
    expect(judged[0]!.finding.evidence[0]!.says).toMatch(/^The hour meter came round its end, from 9,999\.\d h to 0\.\d h on/);
  });
});
