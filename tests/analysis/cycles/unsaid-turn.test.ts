// Issue: a lost message of a start or a stop must not make a run of an hour; World: an ideal tank, its messages left out by hand.
import { describe, expect, test } from 'vitest';
import type { Cycle, DayRow } from '../../../shared/cycle.ts';
import { passTo, startDescriptors, stepDescriptors, type DescriptorSetup } from '../../../analysis/cycles/descriptors.ts';
import { calendarOf, DAY_MS, HOUR_MS, MINUTE_MS } from '../../../shared/time.ts';
import { parseRegistry, generatorsOf } from '../../../shared/registry.ts';

const START_MS = Date.UTC(2026, 2, 3);
const RUN_MS = 6 * MINUTE_MS;
const REST_MS = 54 * MINUTE_MS;

function setup(layout: 'direct' | 'air-receiver'): DescriptorSetup {
  const parsed = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone: 'UTC', generators: [{ id: 'b', layout, tankLitres: 100, cutInKPa: 550, cutOutKPa: 700 }] }] }));
  if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
  return { registered: generatorsOf(parsed.registry)[0]!, calendar: calendarOf('UTC'), outages: [] };
}

type Lost = (kind: 'start' | 'stop', cycle: number) => boolean;

/** Two days of a saw-tooth of 6 min up and 54 min down, the tank each minute, or each quarter of an hour and with each state, states at their change and at every hour. */
function days(lost: Lost, layout: 'direct' | 'air-receiver' = 'direct', rare = false): { readonly rows: DayRow[]; readonly cycles: Cycle[] } {
  const rows: DayRow[] = [];
  const cycles: Cycle[] = [];
  const state = startDescriptors();
  const known = setup(layout);
  const sink = { cycle: (cycle: Cycle) => void cycles.push(cycle), day: (row: DayRow) => void rows.push(row), quarter: () => undefined };
  for (let atMs = START_MS; atMs < START_MS + 2 * DAY_MS + 3 * HOUR_MS; atMs += MINUTE_MS) {
    const cycle = Math.floor((atMs - START_MS) / (RUN_MS + REST_MS));
    const inMs = (atMs - START_MS) % (RUN_MS + REST_MS);
    const said = (inMs === 0 && !lost('start', cycle)) || (inMs === RUN_MS && !lost('stop', cycle)) || (inMs === 40 * MINUTE_MS && !lost('stop', cycle));
    if (!rare || said || inMs % (15 * MINUTE_MS) === 13 * MINUTE_MS) stepDescriptors(state, known, 'tank-pressure', atMs, inMs <= RUN_MS ? 550 + (150 * inMs) / RUN_MS : 700 - (150 * (inMs - RUN_MS)) / REST_MS, sink);
    if (inMs === 0 && !lost('start', cycle)) stepDescriptors(state, known, 'running', atMs, 1, sink);
    if (inMs === RUN_MS && !lost('stop', cycle)) stepDescriptors(state, known, 'running', atMs, 0, sink);
    if (inMs === 40 * MINUTE_MS && !(rare && lost('stop', cycle))) stepDescriptors(state, known, 'running', atMs, 0, sink);
  }
  passTo(state, known, START_MS + 2 * DAY_MS + 3 * HOUR_MS, sink);
  return { rows, cycles };
}

describe('heedTurn()', () => {
  const whole = days(() => false).rows[1]!;

  test('is silent where every message came', () => {
    expect(whole.starts).toBe(24);
    expect(whole.runS).toBeCloseTo(24 * 360, 0);
  });

  test.each([['stop', (kind: string, cycle: number) => kind === 'stop' && cycle % 5 === 2], ['start', (kind: string, cycle: number) => kind === 'start' && cycle % 5 === 2], ['start and stop', (_: string, cycle: number) => cycle % 5 === 2]] as const)('a lost %s changes run, duty, demand and delivery of its day by little', (_, lost) => {
    const row = days(lost).rows[1]!;
    expect(row.runS).toBeGreaterThan(0.97 * whole.runS);
    expect(row.runS).toBeLessThan(1.03 * whole.runS);
    expect(row.runS + row.restS).toBeCloseTo(whole.runS + whole.restS, 0);
    expect(row.longestRunS).toBeLessThan(500);
    expect(row.demand!.value / whole.demand!.value).toBeCloseTo(1, 1);
    expect(row.delivery!.value / whole.delivery!.value).toBeCloseTo(1, 1);
  });

  test('a start that is said while a run is thought to go on is a new one, where rare samples missed the stop but not the fall', () => {
    const row = days((kind, cycle) => kind === 'stop' && cycle % 5 < 3, 'direct', true).rows[1]!;
    expect(row.starts).toBe(24);
    expect(row.longestRunS).toBeLessThan(900);
    expect(row.runS).toBeLessThan(2.2 * whole.runS);
  });

  test('keeps to the states behind an air receiver, whose compressor the tank does not follow', () => {
    const row = days((kind, cycle) => kind === 'stop' && cycle % 5 === 2, 'air-receiver').rows[1]!;
    expect(row.longestRunS).toBeGreaterThan(2000);
  });

  test('a state that is said again holds on, whatever the tank did before; and a tank that vents above its usual stop has not stopped', () => {
    const known = setup('direct');
    const longest = (tankAt: (inRunMs: number) => number): number => {
      const state = startDescriptors();
      const rows: DayRow[] = [];
      const sink = { cycle: () => undefined, day: (row: DayRow) => void rows.push(row), quarter: () => undefined };
      stepDescriptors(state, known, 'running', START_MS, 1, sink);
      for (let atMs = START_MS; atMs < START_MS + DAY_MS + 3 * HOUR_MS; atMs += MINUTE_MS) {
        stepDescriptors(state, known, 'tank-pressure', atMs, tankAt(atMs - START_MS), sink);
        if ((atMs - START_MS) % HOUR_MS === 0) stepDescriptors(state, known, 'running', atMs, 1, sink);
      }
      return rows[0]!.longestRunS;
    };
    // It stood at its stop for two hours, and has run at less since: more is drawn.
    expect(longest((ranMs) => (ranMs < 2 * HOUR_MS ? 700 : Math.max(600, 700 - (ranMs - 2 * HOUR_MS) / (6 * MINUTE_MS))))).toBeGreaterThan(20 * 3600);
    expect(longest((ranMs) => (ranMs % HOUR_MS > 50 * MINUTE_MS ? 790 : 850))).toBeGreaterThan(20 * 3600);
  });
});
