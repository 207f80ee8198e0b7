// Issue: nitrogen of a generator whose runs are all short is known by what they are alike in (design, section 6: judged late in long runs).
// World: the ideal tank; the product comes up from 97 % with a time constant of 2 min to what the membrane makes.
import { expect, test } from 'vitest';
import type { DayRow } from '../../../shared/cycle.ts';
import { fold, idealTank, type Row, setupOf, START_MS } from './ideal-tank.ts';

const DAYS = 20;

/** Nitrogen each half a minute beside an ideal tank's own rows: it declines by 1.5 % from the tenth day on. */
function days(made: number): DayRow[] {
  const { rows } = idealTank({ hours: 24 * DAYS + 3, litres: 100, lowKPa: 550, highKPa: 700, sampleS: 30, demand: () => 1, delivery: () => made, sends: ['running', 'tank-pressure'] });
  let sinceMs: number | null = null;
  let shown = 0.97;
  const sent = rows.flatMap((row): Row[] => {
    if (row.channel === 'running') sinceMs = row.value === 1 ? (sinceMs ?? row.atMs) : null;
    if (row.channel !== 'tank-pressure') return [row];
    const makes = row.atMs - START_MS < 10 * 86_400_000 ? 0.985 : 0.97;
    if (sinceMs !== null) shown = makes - (makes - 0.955) * Math.exp(-(row.atMs - sinceMs) / 120_000);
    return [row, { channel: 'nitrogen', atMs: row.atMs, value: shown }];
  });
  return fold(sent, setupOf({ tankLitres: 100, cutInKPa: 550, cutOutKPa: 700 })).days;
}

test.each([['four', 38], ['nine', 17]])('runs of about %s minutes say each day what they made, and that it declines', (_, made) => {
  const seen = days(made).slice(1, DAYS).map((day) => day.nitrogen?.value ?? null);
  expect(seen.filter((value) => value === null)).toEqual([]);
  const [before, after] = [seen.slice(0, 8), seen.slice(-8)] as [number[], number[]];
  expect(Math.max(...before) - Math.min(...before)).toBeLessThan(0.001);
  expect(Math.min(...before) - Math.max(...after)).toBeGreaterThan(0.008);
});
