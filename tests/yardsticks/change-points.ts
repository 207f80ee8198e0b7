/*
 * segment() against people: mean F1 (margin 5) and cover on series that five people annotated, with fixed settings, beside
 * the published scores of other methods with theirs. Source: van den Burg & Williams 2020, arXiv:2003.06222 (both measures
 * as defined there, and checked here: our score of "no change" must be theirs on every series).
 *
 * Reads `series/*.json`, `annotations.json`, `scores/default_{f1,cover}_uni_full.json` of the folder `change_points`.
 */
import { readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { segment, type SegmentOptions } from '../../analysis/change/segments.ts';
import { cover, f1, MARGIN } from './agreement.ts';
import { fixed, meanOf, type Table } from './table.ts';

type Annotations = Record<string, Record<string, number[]>>;
type Scores = Record<string, Record<string, number | null>>;

const OURS = 'segment(mean)';
const SETTINGS: Record<string, SegmentOptions> = { 'segment(mean)': {}, 'segment(mean-variance)': { model: 'mean-variance' }, 'segment(line)': { model: 'line' } };

/** Series by series what ours found, then the means over the series that all have a score for. */
export function changePoints(folder: string): Table {
  const data = path.join(folder, 'change_points');
  const read = (...names: string[]): unknown => JSON.parse(readFileSync(path.join(data, ...names), 'utf8'));
  const annotations = read('annotations.json') as Annotations;
  const published = { f1: read('scores', 'default_f1_uni_full.json') as Scores, cover: read('scores', 'default_cover_uni_full.json') as Scores };
  const names = readdirSync(path.join(data, 'series')).filter((name) => name.endsWith('.json')).map((name) => name.slice(0, -5)).sort();
  const methods = [...new Set(Object.values(published.f1).flatMap((scores) => Object.keys(scores)))].sort();
  const rows: Record<string, { f1: number[]; cover: number[] }> = {};
  const notes: string[] = [];
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
    for (const method of methods) note(method, [published.f1[name]?.[method] ?? NaN, published.cover[name]?.[method] ?? NaN]);
    for (const [method, options] of Object.entries(SETTINGS)) {
      const found = segment(values, options);
      const pair = [f1(people, found), cover(people, found, values.length)] as const;
      note(method, pair);
      if (method === OURS) notes.push(`${name.padEnd(20)} n ${String(values.length).padStart(4)}  ${pair.map((x) => fixed(x, 3)).join(' / ')}  [${found.join(' ')}]`);
    }
  }
  const shared = names.flatMap((name, i) => (published.f1[name] === undefined ? [] : [i]));
  const whole = Object.entries(rows).filter(([, row]) => shared.every((i) => Number.isFinite(row.f1[i])));
  const mean = (list: readonly number[]): number => meanOf(shared.map((i) => list[i] as number));
  return {
    title: `Change points: F1 (margin ${MARGIN}) and cover against five people, mean over the ${shared.length} of ${names.length} series with published scores, settings fixed`,
    columns: ['method', 'F1', 'cover', ...shared.map((i) => (names[i] as string).slice(0, 8))],
    rows: whole.map(([method, row]): [string, number, string[]] => [method in SETTINGS ? `ours: ${method}` : method, mean(row.f1), [fixed(mean(row.f1), 3), fixed(mean(row.cover), 3), ...shared.map((i) => `${fixed(row.f1[i] as number, 2)}/${fixed(row.cover[i] as number, 2)}`)]]).sort((a, b) => b[1] - a[1]).map(([method, , cells]) => [method, ...cells]),
    notes: [`F1 / cover and changes of ours, ${OURS}:`, ...notes],
  };
}
