import { diagnosisText } from './diagnosis-text.ts';
import { rateWords } from './rate.ts';
import type { ForecastScore } from './score-forecasts.ts';
import type { Counted, ScoreTable } from './score-table.ts';
import { changeWords, linesOf, percent, spanWords } from './text-table.ts';

const round = (value: number, digits = 2): string => value.toFixed(digits);

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

function countedLines(first: string, rows: readonly { readonly name: string; readonly counted: Counted; readonly more?: readonly string[] }[], moreHeads: readonly string[] = []): string[] {
  return linesOf([first, ...COLUMNS.map(([head]) => head), ...moreHeads], rows.map(({ name, counted, more }) => [name, ...COLUMNS.map(([, value]) => value(counted)), ...(more ?? [])]));
}

/** Do stated dates and stated chances come true, whatever came? */
function calibrationLines({ crossedBy, held50, held80, saidPast, werePast, within }: ForecastScore): string[] {
  const days = [...new Set(within.map((one) => one.days))];
  const bands = within.filter((one) => one.days === days[0]);
  const crossed = ({ count, crossed: of }: { readonly count: number; readonly crossed: number }): string => (count === 0 ? '–' : `${percent(of / count)} of ${count}`);
  return [
    '',
    `Stated dates within the branch's life, whatever came: the 50 % range holds ${percent(held50)}, the 80 % range ${percent(held80)}; said to be past now ${saidPast}, of them past ${werePast}`,
    ...linesOf(['date of', 'limits', 'crossed by then'], crossedBy.map(({ share, count, crossed: of }) => [percent(share), `${count}`, count === 0 ? '–' : percent(of / count)])),
    '',
    'Stated chance of being past the limit within so many days, and the share that was; limits that nothing was said of stand in the first row',
    ...linesOf(['stated', ...days.map((one) => `${one} d`)], bands.map(({ from, to }) => [`${percent(from)} to ${percent(to)}`, ...days.map((one) => crossed(within.find((row) => row.days === one && row.from === from)!))])),
    '',
  ];
}

/** So many false findings, of so many generators. */
function falseOf(findings: number, generators: number): string {
  return findings === 0 ? '0' : `${findings} of ${generators}`;
}

/** The whole table as text. */
export function scoreText(table: ScoreTable): string {
  const { forecasts, ranking, reliability } = table;
  return [
    `${table.worlds} ${table.worlds === 1 ? 'world' : 'worlds'}, ${table.generators} generators, ${round(table.generatorYears, 1)} generator-years`,
    '',
    'What diagnosis is held to. Cause and probability are read 24 h after a finding opened.',
    ...diagnosisText(table.diagnosis),
    '',
    'Found and missed, by cause. "Apart": there for less than a week, never to be known, or behind another of its family. "False": so many findings, of so many generators.',
    ...countedLines('cause', [...table.byCause.map((row) => ({ name: row.cause, counted: row, more: [falseOf(row.falseFindings, row.falseGenerators)] })), { name: 'all', counted: table.all, more: [falseOf(table.falseFindings.count, table.falseGenerators)] }], ['false']),
    '',
    'By severity',
    ...countedLines('severity', table.bySeverity.map((row) => ({ name: row.severity, counted: row }))),
    '',
    'By channels sent',
    ...countedLines('channels', table.byChannels.map((row) => ({ name: row.sends, counted: row }))),
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
    `Forecasts: ${forecasts.crossings} crossings within 180 days, ${forecasts.foreseen} foreseen, ${forecasts.unsaid} of limits that nothing was said of; inside the 50 % range ${percent(forecasts.inside50)}, inside the 80 % range ${percent(forecasts.inside80)}; likely date off by ${forecasts.errorDays === null ? '–' : `${round(forecasts.errorDays, 1)} d`} (middle), ${percent(forecasts.withinHalf)} within half of the time left; ${forecasts.notCrossed} limits not crossed, ${forecasts.criedWolf} of them foreseen within 30 days`,
    `Of all ${forecasts.dated} forecasts that gave a date, ${percent(forecasts.beforeEarliest)} were crossed before the earliest and ${percent(forecasts.afterLatest)} not by the latest`,
    ...calibrationLines(forecasts),
    `Ranking: our first ten carry ${percent(ranking.share)} of the true loss of the ten worst (${ranking.times} times looked at)`,
  ].join('\n');
}
