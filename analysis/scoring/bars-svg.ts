import type { BarRow } from './diagnosis-text.ts';
import type { CauseRow } from './score-table.ts';
import { spanWords } from './text-table.ts';
import { DARK, line, MIDDLE, picture, rect, text, WARM } from './svg.ts';

const WIDTH = 900;
const NAME = 150;
const ROW = 22;

/** For each cause the share that was found, and within it what was named. */
export function foundSvg(rows: readonly CauseRow[]): string {
  const known = rows.filter((row) => row.foundShare !== null);
  const full = WIDTH - NAME - 240;
  const bars = known.flatMap((row, index) => {
    const y = index * ROW + 4;
    const found = (row.foundShare ?? 0) * full;
    const named = row.found === 0 ? 0 : (found * row.named) / row.found;
    return [text(NAME - 8, y + 13, row.cause, 'end'), rect(NAME, y, full, ROW - 6, '#f4f6f9'), rect(NAME, y, found, ROW - 6, MIDDLE), rect(NAME, y, named, ROW - 6, DARK), text(NAME + full + 10, y + 13, `${Math.round((row.foundShare ?? 0) * 100)} % of ${row.found + row.missed}; half within ${spanWords(row.delayMedianH)}`)];
  });
  const label = known.map((row) => `${row.cause}: ${row.found} of ${row.found + row.missed} found, ${row.named} named`).join('; ');
  return picture(WIDTH, known.length * ROW + 8, label, bars);
}

/** False findings a generator-year, by the cause that they named. */
export function falseFindingsSvg(rows: readonly CauseRow[], generatorYears: number): string {
  const wrong = rows.filter((row) => row.falseFindings > 0).sort((a, b) => b.falseFindings - a.falseFindings);
  const most = Math.max(1, ...wrong.map((row) => row.falseFindings));
  const full = WIDTH - NAME - 240;
  const bars = wrong.flatMap((row, index) => {
    const y = index * ROW + 4;
    return [text(NAME - 8, y + 13, row.cause, 'end'), rect(NAME, y, (row.falseFindings / most) * full, ROW - 6, WARM), text(NAME + (row.falseFindings / most) * full + 8, y + 13, `${row.falseFindings}: ${generatorYears > 0 ? (row.falseFindings / generatorYears).toFixed(3) : '–'} a generator-year`)];
  });
  return picture(WIDTH, wrong.length * ROW + 8, wrong.length === 0 ? 'No false finding' : wrong.map((row) => `${row.cause}: ${row.falseFindings}`).join('; '), [line(NAME, 0, NAME, wrong.length * ROW + 4), ...bars]);
}

/** Shares that are held to a bar, with the bar as a line across each. */
export function diagnosisSvg(rows: readonly BarRow[]): string {
  const shares = rows.flatMap((row) => (typeof row.share === 'number' && row.barShare !== undefined && row.bar !== '–' ? [{ ...row, share: row.share, barShare: row.barShare }] : []));
  const from = 3 * NAME;
  const full = WIDTH - from - 130;
  const bars = shares.flatMap((row, index) => {
    const y = index * ROW + 4;
    const bar = from + row.barShare * full;
    return [text(from - 8, y + 13, row.figure.trim(), 'end'), rect(from, y, full, ROW - 6, '#f4f6f9'), rect(from, y, row.share * full, ROW - 6, row.share >= row.barShare ? DARK : WARM), line(bar, y - 2, bar, y + ROW - 4), text(from + full + 10, y + 13, row.stands)];
  });
  return picture(WIDTH, shares.length * ROW + 8, shares.map((row) => `${row.figure.trim()}: ${row.stands}; bar ${row.bar}`).join('; '), bars);
}
