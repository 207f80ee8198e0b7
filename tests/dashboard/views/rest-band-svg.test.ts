// Issue: in the rest band a shrinking rest and a growing run are seen to scale, and a day without data stays open.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { largeRestBandSvg, restBandSays, restBandShapes, restBandTopS, smallRestBandSvg } from '../../../dashboard/views/rest-band-svg.ts';
import type { BandDay } from '../../../shared/api.ts';

const SIZE = { widthPx: 420, heightPx: 40 };
const dayName = (index: number): string => new Date(Date.UTC(2026, 9, 1) + index * 86_400_000).toISOString().slice(0, 10);

const bandOf = fc.array(fc.option(fc.record({ runS: fc.double({ min: 0, max: 20_000, noNaN: true }), restS: fc.double({ min: 0, max: 300_000, noNaN: true }) })), { minLength: 1, maxLength: 60 }).map((days): BandDay[] => days.map((day, index) => (day === null ? { day: dayName(index), runS: null, restS: null } : { day: dayName(index), ...day })));

test('restBandShapes() draws run and rest to one scale of time', () => {
  fc.assert(
    fc.property(bandOf, (days) => {
      const shapes = restBandShapes(days, SIZE);
      const pxPerS = SIZE.heightPx / shapes.topS;
      shapes.columns.forEach((column, index) => {
        const day = days[index]!;
        if (day.runS === null || column.beyondScale) return;
        expect(column.runPx).toBeCloseTo(day.runS * pxPerS, 6);
        expect(column.restPx).toBeCloseTo(day.restS * pxPerS, 6);
      });
    }),
  );
});

test('restBandShapes() leaves a day without data open and keeps every column inside its own place', () => {
  fc.assert(
    fc.property(bandOf, (days) => {
      const { columns } = restBandShapes(days, SIZE);
      columns.forEach((column, index) => {
        expect(column.hasData).toBe(days[index]!.runS !== null);
        if (!column.hasData) expect(column.runPx + column.restPx).toBe(0);
        expect(column.runPx + column.restPx).toBeLessThanOrEqual(SIZE.heightPx + 1e-9);
        expect(column.xPx + column.widthPx).toBeLessThanOrEqual((columns[index + 1]?.xPx ?? SIZE.widthPx) + 1e-9);
      });
    }),
  );
});

test('restBandShapes() stands a day where the calendar puts it when days are left out of the list', () => {
  const { columns } = restBandShapes([{ day: '2026-10-01', runS: 300, restS: 2700 }, { day: '2026-10-04', runS: 300, restS: 2700 }], { widthPx: 400, heightPx: 40 });
  expect(columns.map((column) => column.xPx)).toEqual([0, 300]);
});

test('restBandTopS() is not stretched by one rest of three days, and that day says that it is cut', () => {
  const usual = Array.from({ length: 41 }, (_, index): BandDay => ({ day: dayName(index), runS: 300, restS: 2700 }));
  const days = [...usual, { day: dayName(41), runS: 300, restS: 259_200 }];
  expect(restBandTopS(days)).toBe(restBandTopS(usual));
  expect(restBandShapes(days, SIZE).columns.map((column) => column.beyondScale)).toEqual([...usual.map(() => false), true]);
});

test('worn (15 on, 45 off) and leaking (6 on, 18 off) have the same duty ratio and look apart', () => {
  const after = (runMin: number, restMin: number): BandDay[] => Array.from({ length: 42 }, (_, index) => (index < 28 ? { day: dayName(index), runS: 300, restS: 2700 } : { day: dayName(index), runS: runMin * 60, restS: restMin * 60 }));
  const last = (days: readonly BandDay[]) => restBandShapes(days, SIZE).columns.at(-1)!;
  const first = (days: readonly BandDay[]) => restBandShapes(days, SIZE).columns[0]!;
  const worn = after(15, 45);
  const leaking = after(6, 18);
  expect(last(worn).runPx / first(worn).runPx).toBeCloseTo(3, 6);
  expect(last(worn).restPx / first(worn).restPx).toBeCloseTo(1, 6);
  expect(last(leaking).runPx / first(leaking).runPx).toBeCloseTo(1.2, 6);
  expect(last(leaking).restPx / first(leaking).restPx).toBeCloseTo(0.4, 6);
});

test('restBandSays() tells in words what the picture shows', () => {
  const days = Array.from({ length: 14 }, (_, index): BandDay => (index === 9 ? { day: dayName(index), runS: null, restS: null } : { day: dayName(index), runS: 300, restS: index < 7 ? 2700 : 1200 }));
  expect(restBandSays(days)).toBe('Rest band of 14 days. First week: runs 5.0\u00a0min, rests 45\u00a0min. Last week: runs 5.0\u00a0min, rests 20\u00a0min. 1 day without data.');
});

test('the markup carries no style attribute and escapes what it shows, as the pages forbid inline style', () => {
  const days: BandDay[] = [{ day: '2026-10-01', runS: 300, restS: 2700 }];
  for (const svg of [smallRestBandSvg(days, SIZE), largeRestBandSvg(days, { widthPx: 700, heightPx: 220 }, ['2026-10-01'])]) {
    expect(svg).not.toContain(' style=');
    expect(svg).toMatch(/^<svg class="band[^"]*" role="img" aria-label="Rest band/);
  }
  expect(largeRestBandSvg(days, { widthPx: 700, heightPx: 220 }, ['2026-10-01'])).toContain('band-visit');
});
