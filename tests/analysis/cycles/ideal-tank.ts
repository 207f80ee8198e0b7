import type { Channel } from '../../../shared/channels.ts';
import type { Cycle, DayRow } from '../../../shared/cycle.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { type GeneratorRecord, generatorSchema, type RegisteredGenerator, siteSchema } from '../../../shared/registry.ts';
import { calendarOf } from '../../../shared/time.ts';
import { type DescriptorSetup, type DescriptorSink, type DescriptorState, passTo, startDescriptors, stepDescriptors } from '../../../analysis/cycles/descriptors.ts';

export type Row = { readonly channel: Channel; readonly atMs: number; readonly value: number };

/** 2026-03-02T00:00Z, a Monday. */
export const START_MS = Date.UTC(2026, 2, 2);

export function setupOf(generator: Partial<GeneratorRecord> = {}, timeZone = 'UTC', outages: DescriptorSetup['outages'] = [], elevationM = 0): DescriptorSetup {
  const registered: RegisteredGenerator = { key: 'site-1/gen-1' as GeneratorKey, site: siteSchema.parse({ id: 'site-1', timeZone, elevationM }), generator: generatorSchema.parse({ id: 'gen-1', reportEveryS: 60, ...generator }), claimed: true };
  return { registered, calendar: calendarOf(timeZone), outages };
}

export type Ideal = {
  readonly hours: number;
  readonly litres?: number;
  /** NL/min by time since the start, s. */
  readonly demand: (atS: number) => number;
  readonly delivery: (atS: number, gaugeKPa: number) => number;
  readonly lowKPa?: number;
  readonly highKPa?: number;
  readonly sampleS?: number;
  readonly noiseKPa?: number;
  readonly celsius?: (atS: number) => number;
  readonly sends?: readonly Channel[];
  readonly startKPa?: number;
};

/**
 * A tank between a compressor and a leak, second by second, with nothing else in it: the plainest mass balance, written
 * here and not taken from the simulator or the analysis, so that a shared slip shows.
 */
export function idealTank(world: Ideal): { readonly rows: Row[]; readonly runS: number; readonly restS: number; readonly starts: number; readonly delivered: number; readonly drawn: number } {
  const { litres = 100, lowKPa = 550, highKPa = 700, sampleS = 60, noiseKPa = 0, celsius = () => 20, sends = ['running', 'tank-pressure'] } = world;
  const random = mulberry32(7);
  const rows: Row[] = [];
  // Normal litres in the tank: p/101.325 × 273.15/T × V.
  let normal = ((world.startKPa ?? highKPa) + 101.325) / 101.325 * (273.15 / (celsius(0) + 273.15)) * litres;
  let running = false;
  const totals = { runS: 0, restS: 0, starts: 0, delivered: 0, drawn: 0 };
  for (let atS = 0; atS < world.hours * 3600; atS += 1) {
    const gauge = (normal / litres) * 101.325 * ((celsius(atS) + 273.15) / 273.15) - 101.325;
    const before: boolean = running;
    if (running && gauge >= highKPa) running = false;
    else if (!running && gauge <= lowKPa) running = true;
    const atMs = START_MS + atS * 1000;
    if (running && !before) totals.starts += 1;
    if ((running !== before || atS % 3600 === 0) && sends.includes('running')) rows.push({ channel: 'running', atMs, value: running ? 1 : 0 });
    if (atS % sampleS === 0) {
      if (sends.includes('tank-pressure')) rows.push({ channel: 'tank-pressure', atMs, value: gauge + noiseKPa * gaussian(random) });
      if (sends.includes('room-temperature')) rows.push({ channel: 'room-temperature', atMs, value: celsius(atS) });
      if (sends.includes('tank-temperature')) rows.push({ channel: 'tank-temperature', atMs, value: celsius(atS) });
      if (sends.includes('run-time')) rows.push({ channel: 'run-time', atMs, value: totals.runS });
      if (sends.includes('starts')) rows.push({ channel: 'starts', atMs, value: totals.starts });
    }
    const made = running ? world.delivery(atS, gauge) / 60 : 0;
    const drawn = world.demand(atS) / 60;
    normal += made - drawn;
    totals.delivered += made;
    totals.drawn += drawn;
    totals[running ? 'runS' : 'restS'] += 1;
  }
  return { rows, ...totals };
}

export type Folded = { readonly state: DescriptorState; readonly cycles: Cycle[]; readonly days: DayRow[]; readonly quarters: DayRow[] };

/** Fold rows from the start; `finish` passes the time on to close the last day. */
export function fold(rows: readonly Row[], setup: DescriptorSetup, finishMs?: number): Folded {
  const state = startDescriptors();
  const out: { cycles: Cycle[]; days: DayRow[]; quarters: DayRow[] } = { cycles: [], days: [], quarters: [] };
  const sink = sinkOf(out);
  for (const row of rows) stepDescriptors(state, setup, row.channel, row.atMs, row.value, sink);
  const last = rows.at(-1);
  if (last !== undefined) passTo(state, setup, finishMs ?? last.atMs, sink);
  return { state, ...out };
}

export function sinkOf(out: { cycles: Cycle[]; days: DayRow[]; quarters: DayRow[] }): DescriptorSink {
  return { cycle: (cycle) => out.cycles.push(cycle), day: (row) => out.days.push(row), quarter: (row) => out.quarters.push(row) };
}

export function mulberry32(seed: number): () => number {
  let a = seed;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

export function gaussian(random: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}
