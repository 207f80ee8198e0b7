/*
 * segment() on simulated series whose changes are known: what its settings were chosen on, before it saw the series of
 * change-points.ts. Steps on independent and correlated noise, on a wander, a slope, a season, among wild values; a third without any. What
 * jumps every ten values or so is taken for a wander, with no change in it.
 */
import { segment } from '../../analysis/change/segments.ts';
import { normals, seeded } from '../analysis/change/world.ts';
import { cover, f1 } from './agreement.ts';
import { fixed, meanOf, type Table } from './table.ts';

const KINDS = ['independent', 'correlation 0.5', 'correlation 0.8', 'correlation 0.95', 'wander', 'slope', 'season', 'wild values', 'smooth wander', 'jumps all the time'] as const;
const CORRELATION: Partial<Record<(typeof KINDS)[number], number>> = { 'correlation 0.5': 0.5, 'correlation 0.8': 0.8, 'correlation 0.95': 0.95 };
/** Series of each kind. */
const DRAWS = 50;

/** Up to four steps of 2 to 6 sd of the noise (more where it wanders), at least 13 values apart. */
function drawSeries(seed: number, kind: (typeof KINDS)[number]): { readonly values: number[]; readonly changes: number[] } {
  const random = seeded(seed);
  const normal = normals(random);
  const n = 50 + Math.floor(random() * 300);
  const changes: number[] = [];
  for (let left = random() < 0.35 ? 0 : 1 + Math.floor(random() * 4); left > 0; left--) {
    const at = 8 + Math.floor(random() * (n - 16));
    if (changes.every((change) => Math.abs(change - at) > 12)) changes.push(at);
  }
  if (kind === 'jumps all the time') return { values: jumping(random, normal, n), changes: [] };
  const correlation = CORRELATION[kind] ?? 0;
  const wander = kind === 'wander' ? 0.3 + random() : 0;
  const slope = kind === 'slope' ? (random() - 0.5) * 0.1 : 0;
  const [swing, period] = kind === 'season' ? [0.5 + random(), 10 + random() * 30] : [0, 1];
  const scale = ((1 + correlation) / (1 - correlation)) ** 0.25 * (1 + 2 * wander);
  let [level, noise, walk, pace, smooth] = [0, normal(), 0, 0, 0];
  const values = Array.from({ length: n }, (_, i) => {
    if (changes.includes(i)) level += (random() < 0.5 ? -1 : 1) * (2 + 4 * random()) * scale;
    noise = correlation * noise + Math.sqrt(1 - correlation ** 2) * normal();
    walk += wander * normal();
    pace = 0.95 * pace + 0.05 * normal();
    if (kind === 'smooth wander') smooth += 3 * pace;
    const wild = kind === 'wild values' && random() < 0.02 ? 12 * normal() : 0;
    return level + noise * (kind === 'smooth wander' ? 0.1 : 1) + walk + smooth + slope * i + swing * Math.sin((2 * Math.PI * i) / period) + wild;
  });
  return { values, changes: changes.sort((a, b) => a - b) };
}

/** A level drawn anew every 5 to 15 values. */
function jumping(random: () => number, normal: () => number, n: number): number[] {
  let [level, left] = [0, 0];
  return Array.from({ length: n }, () => {
    if (left-- <= 0) [level, left] = [8 * normal(), 5 + Math.floor(10 * random())];
    return level + normal();
  });
}

export function simulatedChanges(): Table {
  const rows = KINDS.map((kind, which) => {
    const pairs = Array.from({ length: DRAWS }, (_, i) => {
      const { values, changes } = drawSeries(1 + which + i * KINDS.length, kind);
      const [found, none] = [segment(values), []];
      return { f1: f1([changes], found), cover: cover([changes], found, values.length), f1None: f1([changes], none), coverNone: cover([changes], none, values.length) };
    });
    return [kind, ...(['f1', 'cover', 'f1None', 'coverNone'] as const).map((name) => meanOf(pairs.map((pair) => pair[name])))] as [string, number, number, number, number];
  });
  const all = [1, 2, 3, 4].map((column) => meanOf(rows.map((row) => row[column] as number)));
  return {
    title: `Simulated changes: ${DRAWS} series of each kind, F1 and cover against the truth`,
    columns: ['steps on', 'F1', 'cover', 'F1 of no change', 'cover of no change'],
    rows: [...rows, ['all', ...all] as const].map(([name, ...figures]) => [name, ...figures.map((figure) => fixed(figure, 3))]),
    notes: [],
  };
}
