import type { ScoreTable } from './score-table.ts';
import { linesOf, spanWords } from './text-table.ts';

/** One measure under two settings; `better` is the side that does better, null where they are equal or one has no figure. */
export type Compared = { readonly measure: string; readonly a: number | null; readonly b: number | null; readonly better: 'a' | 'b' | null };

type Measure = readonly [name: string, value: (table: ScoreTable) => number | null, want: 'more' | 'less'];

function measuresOf(a: ScoreTable, b: ScoreTable): Measure[] {
  const causes = [...new Set([...a.byCause, ...b.byCause].map((row) => row.cause))];
  const row = (table: ScoreTable, cause: string): ScoreTable['byCause'][number] | undefined => table.byCause.find((one) => one.cause === cause);
  return [
    ['found share', (table) => table.all.foundShare, 'more'],
    ['named, of the found', (table) => (table.all.found === 0 ? null : table.all.named / table.all.found), 'more'],
    ['delay, half, h', (table) => table.all.delayMedianH, 'less'],
    ['delay, 90 %, h', (table) => table.all.delay90H, 'less'],
    ['false findings a generator-year', (table) => table.falseFindings.perYear, 'less'],
    ['false while healthy a generator-year', (table) => table.falseWhileHealthy.perYear, 'less'],
    ['false findings a generator-year, in good order', (table) => table.diagnosis.falseInGoodOrder.perYear, 'less'],
    ["found share above the generator's own smallest change", (table) => table.diagnosis.foundOfExceeding.share, 'more'],
    ['stated probabilities off by', (table) => table.reliability.calibrationError, 'less'],
    ['likely date off by, d', (table) => table.forecasts.errorDays, 'less'],
    ['ranking share', (table) => table.ranking.share, 'more'],
    ...causes.flatMap((cause): Measure[] => [
      [`${cause}: found share`, (table) => row(table, cause)?.foundShare ?? null, 'more'],
      [`${cause}: delay, half, h`, (table) => row(table, cause)?.delayMedianH ?? null, 'less'],
      [`${cause}: false findings`, (table) => row(table, cause)?.falseFindings ?? null, 'less'],
    ]),
  ];
}

/** What gets better and what worse from settings `a` to settings `b`, on the same worlds. */
export function compareScores(a: ScoreTable, b: ScoreTable): Compared[] {
  return measuresOf(a, b).map(([measure, value, want]) => {
    const [ours, theirs] = [value(a), value(b)];
    const better = ours === null || theirs === null || ours === theirs ? null : ours > theirs === (want === 'more') ? 'a' : 'b';
    return { measure, a: ours, b: theirs, better };
  });
}

/** Only what differs; equal measures say nothing. */
export function compareText(compared: readonly Compared[], names: readonly [a: string, b: string]): string {
  const words = (measure: string, value: number | null): string => (value === null ? '–' : measure.endsWith(', h') ? spanWords(value) : measure.includes('share') || measure.startsWith('named') ? `${(value * 100).toFixed(1)} %` : `${Math.round(value * 1000) / 1000}`);
  const differing = compared.filter((one) => one.better !== null);
  if (differing.length === 0) return 'No measure differs.';
  return linesOf(['measure', ...names, 'better'], differing.map((one) => [one.measure, words(one.measure, one.a), words(one.measure, one.b), one.better === 'a' ? names[0] : names[1]])).join('\n');
}
