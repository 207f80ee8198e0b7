/*
 * The product's run and rest, folded from months of real power of six refrigerators. There is no truth: what must hold is that
 * run, rest and silence tile the record, that cycles tile run and rest, and that both give the duty that the samples give.
 * Contains information from the tracebase data set, which is made available at http://www.tracebase.org under the Open
 * Database License (ODbL). Reinhardt 2012.
 */
import { readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { gunzipSync } from 'node:zlib';
import { quantile } from '../../analysis/change/robust.ts';
import type { Cycle } from '../../shared/cycle.ts';
import { fold, type Row, setupOf } from '../analysis/cycles/ideal-tank.ts';
import { percent, type Table } from './table.ts';

/** Longer silence is a gap: three times the interval that the generator is said to report at. */
const GAP_S = 180;

type Samples = { readonly rows: readonly Row[]; readonly doubled: number; readonly conflicting: number };

/** Of values with one time stamp the first counts; on is above half of the usual high power, which standby and lamps stay below. */
function readSamples(file: string): Samples {
  const lines = gunzipSync(readFileSync(file)).toString('utf8').trim().split('\n').slice(1);
  const first = new Map<number, number>();
  let [doubled, conflicting] = [0, 0];
  for (const line of lines) {
    const [time, watts] = line.split(',') as [string, string];
    const atMs = Date.parse(`${time}Z`);
    const before = first.get(atMs);
    if (before === undefined) first.set(atMs, Number(watts));
    else if (before === Number(watts)) doubled++;
    else conflicting++;
  }
  const watts = [...first.values()].filter((_, i) => i % 50 === 0);
  // A start draws many times the running power, so the highest value is no measure.
  const limit = (quantile(watts, 0.95) ?? 0) / 2;
  const rows = [...first].sort((a, b) => a[0] - b[0]).map(([atMs, value]): Row => ({ channel: 'running', atMs, value: value > limit ? 1 : 0 }));
  return { rows, doubled, conflicting };
}

type Totals = { runS: number; restS: number; silentS: number; starts: number; readonly gapsFromMs: Set<number> };

/** Straight from the samples: each holds until the next, unless that is a gap. */
function totalsOf(rows: readonly Row[]): Totals {
  const totals: Totals = { runS: 0, restS: 0, silentS: 0, starts: 0, gapsFromMs: new Set() };
  for (let i = 1; i < rows.length; i++) {
    const [before, now] = [rows[i - 1] as Row, rows[i] as Row];
    const gapS = (now.atMs - before.atMs) / 1000;
    if (gapS > GAP_S) {
      totals.silentS += gapS;
      totals.gapsFromMs.add(before.atMs);
    } else {
      totals[before.value === 1 ? 'runS' : 'restS'] += gapS;
      if (before.value === 0 && now.value === 1) totals.starts++;
    }
  }
  return totals;
}

function judge(file: string, name: string): (string | number)[] {
  const { rows, doubled, conflicting } = readSamples(file);
  const straight = totalsOf(rows);
  const lastMs = (rows.at(-1) as Row).atMs;
  const { quarters, cycles } = fold(rows, setupOf({ reportEveryS: GAP_S / 3 }), lastMs + 2 * 86_400_000);
  const sum = (of: 'runS' | 'restS' | 'starts'): number => quarters.reduce((total, row) => total + row[of], 0);
  const [runS, restS] = [sum('runS'), sum('restS')];
  const spanS = (lastMs - (rows[0] as Row).atMs) / 1000;
  const off = Math.abs(runS + restS + straight.silentS - spanS);
  // A cycle that no gap cuts ends where the next one begins, or where silence does.
  const ends = cycles.slice(0, -1).map((cycle, i) => ({ cut: cycle.cut, endMs: Math.round(cycle.startMs + (cycle.runS + cycle.restS) * 1000), nextMs: (cycles[i + 1] as Cycle).startMs }));
  const whole = ends.filter(({ cut }) => !cut);
  const tiled = whole.filter(({ endMs, nextMs }) => Math.abs(endMs - nextMs) < 1 || straight.gapsFromMs.has(endMs));
  const cycleRunS = cycles.reduce((total, cycle) => total + cycle.runS, 0);
  const holds = off < 1 && Math.abs(runS - straight.runS) < 1 && Math.abs(restS - straight.restS) < 1 && sum('starts') === straight.starts && tiled.length === whole.length && cycleRunS <= runS + 1;
  return [name, (spanS / 86_400).toFixed(0), doubled, conflicting, percent(straight.silentS / spanS, 1), sum('starts'), percent(straight.runS / (straight.runS + straight.restS), 2), percent(runS / (runS + restS), 2), percent(cycleRunS / runS, 1), `${tiled.length} of ${whole.length}`, off.toFixed(3), holds ? 'yes' : 'NO'];
}

export function cyclingAppliances(folder: string): Table {
  const data = path.join(folder, 'cycling_appliances');
  const files = readdirSync(data).filter((name) => name.endsWith('.csv.gz')).sort();
  return {
    title: 'Cycling appliances: run, rest and silence of real power',
    columns: ['record', 'days', 'doubled', 'conflicting', 'silent', 'starts', 'duty from samples', 'duty from cycles', 'run in cycles', 'cycles that tile', 'off by s', 'all hold'],
    rows: files.map((name) => judge(path.join(data, name), name.replace(/^Refrigerator_|\.csv\.gz$/g, ''))),
    notes: ['"run in cycles": the run before the first start belongs to no cycle. "off by": run + rest + silence against the span of the record.'],
  };
}
