// Issue: what was found and mended says nothing of what is usual: a wrong unit must not become a lost delivery, nor a bypass a leak when it is shut.
import { describe, expect, test } from 'vitest';
import { type LeftOut, quartersWithout, withoutLeftOut } from '../../../analysis/causes/left-out.ts';
import type { DayRow, QuarterValues } from '../../../shared/cycle.ts';
import { DAY_MS } from '../../../shared/time.ts';

const quarter = (startMs: number): QuarterValues => ({ startMs, endMs: startMs + DAY_MS / 4, unit: 'NL/min', demand: [0.1, 0.02], delivery: [3, 0.02], duty: [-3, 0.1] });
const day = (index: number): DayRow => ({ startMs: index * DAY_MS, endMs: (index + 1) * DAY_MS, demand: { value: 1, se: 0.02 }, delivery: { value: 20, se: 0.2 }, dutyRatio: 0.05, cutInKPa: 550, cutOutKPa: 700, starts: 20, nitrogen: { value: 0.985, se: 1e-4 }, quarters: [quarter(index * DAY_MS), quarter(index * DAY_MS + DAY_MS / 2)] }) as unknown as DayRow;
const rows = [0, 1, 2].map(day);
const time = (of: LeftOut['of']): LeftOut => ({ of, fromMs: 1.6 * DAY_MS, toMs: 1.9 * DAY_MS });

describe('withoutLeftOut()', () => {
  test('a tank gauge that lied leaves neither demand, delivery nor band of that day, and its run time', () => {
    const [before, on, after] = withoutLeftOut(rows, [time('tank')]);
    expect([before, after]).toEqual([rows[0], rows[2]]);
    expect(on).toMatchObject({ demand: null, delivery: null, cutInKPa: null, cutOutKPa: null, dutyRatio: 0.05, nitrogen: { value: 0.985 } });
    // Of the day's quarters only the one that the time reaches.
    expect(on!.quarters![0]).toEqual(rows[1]!.quarters![0]);
    expect(on!.quarters![1]).toMatchObject({ demand: [null, 0], delivery: [null, 0], duty: [-3, 0.1] });
  });

  test('a supply that fed nothing leaves no demand and no run time, and what is made', () => {
    expect(withoutLeftOut(rows, [time('supply')])[1]).toMatchObject({ demand: null, dutyRatio: null, delivery: { value: 20 }, cutInKPa: 550 });
    expect(quartersWithout(rows[1]!.quarters!, [time('supply'), time('tank')])[1]).toMatchObject({ demand: [null, 0], delivery: [null, 0], duty: [null, 0] });
    expect(withoutLeftOut(rows, [])).toBe(rows);
  });

  test('a compressor that never stopped leaves neither what was drawn or made nor its band, and its nitrogen', () => {
    expect(withoutLeftOut(rows, [time('run')])[1]).toMatchObject({ demand: null, delivery: null, dutyRatio: null, cutInKPa: null, cutOutKPa: null, nitrogen: { value: 0.985 } });
    expect(quartersWithout(rows[1]!.quarters!, [time('run')])[1]).toMatchObject({ demand: [null, 0], delivery: [null, 0], duty: [null, 0] });
  });
});
