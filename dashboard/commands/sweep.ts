import type { ScoreTable } from '../../analysis/scoring/score-table.ts';
import { type AnalysisSettings, analysisSettingsSchema } from '../../shared/analysis-settings.ts';
import { UsageError } from './command.ts';

/** More would be no better curve, only a longer wait: each is a fold of every world. */
const MOST_VALUES = 8;
/** What can be swept; horizon and prices change no finding. */
const SWEPT = ['falseFindingsPerYear', 'smallestChange', 'baselineDays'] as const;
type Swept = (typeof SWEPT)[number];

/**
 * The configured settings once for each value of `--sweep`, in order of value: `0.05,0.2,1` are prices in false findings a year,
 * `smallestChange=0.05,0.1,0.2` names another setting.
 * @throws {UsageError} for what can't be set so.
 */
export function sweptSettings(text: string, configured: AnalysisSettings): AnalysisSettings[] {
  const named = /^(\w+)=(.*)$/.exec(text);
  const name = SWEPT.find((one) => one === (named?.[1] ?? SWEPT[0]));
  if (name === undefined) throw new UsageError(`--sweep can vary ${SWEPT.join(', ')}: current value is ${JSON.stringify(text)}`);
  const values = [...new Set((named?.[2] ?? text).split(',').map((part) => Number(part.trim() === '' ? NaN : part)))];
  if (values.some((value) => !analysisSettingsSchema.shape[name].safeParse(value).success)) throw new UsageError(`--sweep must name values that ${name} can have, such as ${EXAMPLES[name]}: current value is ${JSON.stringify(text)}`);
  if (values.length < 2 || values.length > MOST_VALUES) throw new UsageError(`--sweep must name 2 to ${MOST_VALUES} values: current value is ${JSON.stringify(text)}`);
  return values.sort((a, b) => a - b).map((value) => ({ ...configured, [name]: value }));
}

const EXAMPLES: Readonly<Record<Swept, string>> = { falseFindingsPerYear: '0.05,0.2,1,5', smallestChange: 'smallestChange=0.05,0.1,0.2', baselineDays: 'baselineDays=14,28' };

/** One line for each value: what was set, what was paid in false findings, what was found for it. */
export function sweepText(settings: readonly AnalysisSettings[], tables: readonly ScoreTable[]): string {
  const name = SWEPT.find((one) => new Set(settings.map((setting) => setting[one])).size > 1) ?? SWEPT[0];
  const lines = tables.map((table, index) => {
    const { falseFindings: paid, all } = table;
    return [String(settings[index]![name]), `${paid.perYear.toFixed(2)} (${paid.low.toFixed(2)} to ${paid.high.toFixed(2)})`, all.foundShare === null ? '–' : `${Math.round(all.foundShare * 100)} % of ${all.found + all.missed}`, all.delayMedianH === null ? '–' : `${Math.round(all.delayMedianH)} h`];
  });
  const rows = [[name, 'false a generator-year', 'found', 'half within'], ...lines];
  const widths = rows[0]!.map((_, column) => Math.max(...rows.map((row) => row[column]!.length)));
  return rows.map((row) => row.map((cell, column) => cell.padEnd(widths[column]!)).join('  ').trimEnd()).join('\n');
}
