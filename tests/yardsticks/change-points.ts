/*
 * segment() against people: mean F1 (margin 5) and cover on series that five people annotated, with fixed settings, beside
 * the published scores of other methods with theirs. Source: van den Burg & Williams 2020, arXiv:2003.06222 (both measures
 * as defined there, and checked here: our score of "no change" must be theirs on every series).
 *
 * Takes the folder of the data as its argument: `series/*.json`, `annotations.json`, `scores/default_{f1,cover}_uni_full.json`.
 */
import { readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import process from 'node:process';
import { segment, type SegmentOptions } from '../../analysis/change/segments.ts';

type Annotations = Record<string, Record<string, number[]>>;
type Scores = Record<string, Record<string, number | null>>;

const MARGIN = 5;
const PUBLISHED = ['zero', 'pelt', 'binseg', 'amoc', 'wbs', 'bocpd'] as const;
const SETTINGS: Record<string, SegmentOptions> = { 'segment(mean)': {}, 'segment(mean-variance)': { model: 'mean-variance' }, 'segment(line)': { model: 'line' } };

/** How many of `found` lie within the margin of one of `truth`, each truth serving once. */
function hits(truth: ReadonlySet<number>, found: ReadonlySet<number>): number {
  const left = new Set(found);
  let count = 0;
  for (const tau of truth) {
    const near = [...left].filter((x) => Math.abs(tau - x) <= MARGIN).sort((a, b) => Math.abs(tau - a) - Math.abs(tau - b))[0];
    if (near === undefined) continue;
    count++;
    left.delete(near);
  }
  return count;
}

/** The beginning of the series counts as a change that all know of, so that "none" can be right. */
const withStart = (changes: readonly number[]): Set<number> => new Set([0, ...changes]);

function f1(people: readonly number[][], found: readonly number[]): number {
  const ours = withStart(found);
  const precision = hits(withStart(people.flat()), ours) / ours.size;
  const recall = people.reduce((sum, one) => sum + hits(withStart(one), ours) / withStart(one).size, 0) / people.length;
  return (2 * precision * recall) / (precision + recall);
}

function cover(people: readonly number[][], found: readonly number[], n: number): number {
  const parts = (changes: readonly number[]): [number, number][] => [...withStart(changes)].sort((a, b) => a - b).map((from, i, all) => [from, all[i + 1] ?? n]);
  const ours = parts(found);
  const one = (theirs: readonly [number, number][]): number =>
    theirs.reduce((sum, [from, to]) => {
      const best = Math.max(...ours.map(([a, b]) => Math.max(0, Math.min(to, b) - Math.max(from, a)) / (Math.max(to, b) - Math.min(from, a))));
      return sum + (to - from) * best;
    }, 0) / n;
  return people.reduce((sum, changes) => sum + one(parts(changes)), 0) / people.length;
}

function main(folder: string): void {
  const read = (...names: string[]): unknown => JSON.parse(readFileSync(path.join(folder, ...names), 'utf8'));
  const annotations = read('annotations.json') as Annotations;
  const published = { f1: read('scores', 'default_f1_uni_full.json') as Scores, cover: read('scores', 'default_cover_uni_full.json') as Scores };
  const names = readdirSync(path.join(folder, 'series')).filter((name) => name.endsWith('.json')).map((name) => name.slice(0, -5)).sort();
  const rows: Record<string, { f1: number[]; cover: number[] }> = {};
  const note = (method: string, pair: readonly [number, number]): void => {
    const row = (rows[method] ??= { f1: [], cover: [] });
    row.f1.push(pair[0]);
    row.cover.push(pair[1]);
  };
  for (const name of names) {
    const values = (read('series', `${name}.json`) as { series: [{ raw: number[] }] }).series[0].raw;
    const people = Object.values(annotations[name] ?? {});
    const none = [f1(people, []), cover(people, [], values.length)] as const;
    const theirs = [published.f1[name]?.['zero'] ?? none[0], published.cover[name]?.['zero'] ?? none[1]] as const;
    if (Math.abs(none[0] - theirs[0]) > 1e-9 || Math.abs(none[1] - theirs[1]) > 1e-9) throw new Error(`our measures differ from the published ones on ${name}: ${none.join(' ')} against ${theirs.join(' ')}`);
    for (const method of PUBLISHED) note(method, [published.f1[name]?.[method] ?? NaN, published.cover[name]?.[method] ?? NaN]);
    const line = [name.padEnd(20), `n ${String(values.length).padStart(4)}`];
    for (const [method, options] of Object.entries(SETTINGS)) {
      const found = segment(values, options);
      const pair = [f1(people, found), cover(people, found, values.length)] as const;
      note(method, pair);
      line.push(`${method} ${pair.map((x) => x.toFixed(3)).join('/')} [${found.join(' ')}]`);
    }
    console.log(line.join('  '));
  }
  // Only series that all have a score for, so that each mean is over the same ones.
  const shared = names.flatMap((_, i) => (PUBLISHED.every((method) => Number.isFinite(rows[method]?.f1[i])) ? [i] : []));
  console.log(`\nmean over the ${shared.length} of ${names.length} series that all have a score for: F1 (margin ${MARGIN}) / cover, settings fixed`);
  const mean = (list: readonly number[], which: readonly number[]): string => (which.reduce((sum, i) => sum + (list[i] ?? NaN), 0) / which.length).toFixed(3);
  for (const [method, row] of Object.entries(rows)) {
    const ours = method in SETTINGS ? `   all ${names.length}: ${mean(row.f1, names.map((_, i) => i))} / ${mean(row.cover, names.map((_, i) => i))}` : '';
    console.log(`${method.padEnd(24)} ${mean(row.f1, shared)} / ${mean(row.cover, shared)}${ours}`);
  }
}

const folder = process.argv[2];
if (folder === undefined) {
  console.error('Give the folder of the data as the argument.');
  process.exitCode = 2;
} else main(folder);
