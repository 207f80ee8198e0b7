import type { Counted, Rate, ScoreTable } from './score-table.ts';

const percent = (share: number | null): string => (share === null ? '–' : `${Math.round(share * 100)} %`);
/** Hours below two days, else days. */
export function spanWords(hours: number | null): string {
  if (hours === null) return '–';
  return hours < 48 ? `${Math.round(hours * 10) / 10} h` : `${Math.round((hours / 24) * 10) / 10} d`;
}
/** A change of run time from its logarithm. */
const changeWords = (effect: number | null): string => (effect === null ? '–' : `${Math.round(Math.expm1(effect) * 100)} %`);
const round = (value: number, digits = 2): string => value.toFixed(digits);

export function rateWords(rate: Rate): string {
  return `${round(rate.perYear)} a generator-year (95 %: ${round(rate.low)} to ${round(rate.high)}; ${rate.count} in ${round(rate.years, 1)} years)`;
}

type Column = readonly [head: string, value: (row: Counted) => string];
const COLUMNS: readonly Column[] = [
  ['faults', (row) => `${row.faults}`],
  ['found', (row) => `${row.found}`],
  ['missed', (row) => `${row.missed}`],
  ['apart', (row) => `${row.apart}`],
  ['found share', (row) => percent(row.foundShare)],
  ['named (opening / judged / end)', (row) => (row.found === 0 ? '–' : `${row.namedAtOpening} / ${row.named} / ${row.namedAtEnd}`)],
  ['delay, half', (row) => spanWords(row.delayMedianH)],
  ['delay, 90 %', (row) => spanWords(row.delay90H)],
  ['run time then', (row) => changeWords(row.effectAtFinding)],
];

/** Rows as a table that reads as plain text and as Markdown. */
export function linesOf(heads: readonly string[], rows: readonly (readonly string[])[]): string[] {
  const widths = heads.map((head, column) => Math.max(3, head.length, ...rows.map((row) => (row[column] ?? '').length)));
  const line = (cells: readonly string[]): string => `| ${widths.map((width, column) => (column === 0 ? (cells[column] ?? '').padEnd(width) : (cells[column] ?? '').padStart(width))).join(' | ')} |`;
  return [line(heads), `|${widths.map((width, column) => (column === 0 ? '-'.repeat(width + 2) : `${'-'.repeat(width + 1)}:`)).join('|')}|`, ...rows.map(line)];
}

function countedLines(first: string, rows: readonly { readonly name: string; readonly counted: Counted; readonly more?: readonly string[] }[], moreHeads: readonly string[] = []): string[] {
  return linesOf([first, ...COLUMNS.map(([head]) => head), ...moreHeads], rows.map(({ name, counted, more }) => [name, ...COLUMNS.map(([, value]) => value(counted)), ...(more ?? [])]));
}

/** The whole table as text. */
export function scoreText(table: ScoreTable): string {
  const { forecasts, ranking, reliability } = table;
  return [
    `${table.worlds} ${table.worlds === 1 ? 'world' : 'worlds'}, ${table.generators} generators, ${round(table.generatorYears, 1)} generator-years`,
    '',
    'Found and missed, by cause. "Apart": there for less than a week, never to be known, or behind another of its family.',
    ...countedLines('cause', [...table.byCause.map((row) => ({ name: row.cause, counted: row, more: [`${row.falseFindings}`] })), { name: 'all', counted: table.all, more: [`${table.falseFindings.count}`] }], ['false']),
    '',
    'By severity',
    ...countedLines('severity', table.bySeverity.map((row) => ({ name: row.severity, counted: row }))),
    '',
    `False findings: ${rateWords(table.falseFindings)}`,
    `Of these with nothing the matter: ${rateWords(table.falseWhileHealthy)}`,
    `Neither right nor wrong (upsets that may be spoken of so, faults just mended): ${table.excused}`,
    '',
    'Found share against the largest change of run time in any week',
    ...linesOf(['change', 'faults', 'found', 'share'], table.curve.map((point) => [point.to === null ? `over ${percent(point.from)}` : `${percent(point.from)} to ${percent(point.to)}`, `${point.faults}`, `${point.found}`, percent(point.share)])),
    '',
    'What was true, and what was said when judged (the truth "none" is a false finding)',
    ...linesOf(['truth', 'said', 'count'], table.confusion.map((cell) => [cell.truth, cell.said, `${cell.count}`])),
    '',
    `Stated probabilities (${reliability.count} findings): off by ${reliability.calibrationError === null ? '–' : round(reliability.calibrationError)} on average, Brier score ${reliability.brier === null ? '–' : round(reliability.brier)}`,
    ...linesOf(['stated', 'findings', 'stated on average', 'right'], reliability.bins.map((bin) => [`${percent(bin.from)} to ${percent(bin.to)}`, `${bin.count}`, percent(bin.stated), percent(bin.right)])),
    '',
    `Forecasts: ${forecasts.crossings} crossings ahead, ${forecasts.foreseen} foreseen; inside the 50 % range ${percent(forecasts.inside50)}, inside the 80 % range ${percent(forecasts.inside80)}; likely date off by ${forecasts.errorDays === null ? '–' : `${round(forecasts.errorDays, 1)} d`} (middle), ${percent(forecasts.withinHalf)} within half of the time left; ${forecasts.notCrossed} limits not crossed, ${forecasts.criedWolf} of them foreseen within 30 days`,
    `Ranking: our first ten carry ${percent(ranking.share)} of the true loss of the ten worst (${ranking.times} times looked at)`,
  ].join('\n');
}
