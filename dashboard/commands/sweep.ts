import type { ScoreTable } from '../../analysis/scoring/score-table.ts';
import { type AnalysisSettings, analysisSettingsSchema } from '../../shared/analysis-settings.ts';
import { UsageError } from './command.ts';

/** More would be no better curve, only a longer wait: each is a fold of every world. */
const MOST_VALUES = 8;

/** The configured settings once for each price of `--sweep`, in order of price. @throws {UsageError} for what is no price. */
export function sweptSettings(text: string, configured: AnalysisSettings): AnalysisSettings[] {
  const prices = [...new Set(text.split(',').map((part) => Number(part.trim() === '' ? NaN : part)))];
  const bad = prices.filter((price) => !analysisSettingsSchema.shape.falseFindingsPerYear.safeParse(price).success);
  if (bad.length > 0) throw new UsageError(`--sweep must be false findings a generator-year such as 0.05,0.2,1,5, each above 0 and at most 10: current value is ${JSON.stringify(text)}`);
  if (prices.length < 2 || prices.length > MOST_VALUES) throw new UsageError(`--sweep must name 2 to ${MOST_VALUES} prices: current value is ${JSON.stringify(text)}`);
  return prices.sort((a, b) => a - b).map((falseFindingsPerYear) => ({ ...configured, falseFindingsPerYear }));
}

/** One line for each price: what was asked for, what was paid, what was found for it. */
export function sweepText(settings: readonly AnalysisSettings[], tables: readonly ScoreTable[]): string {
  const lines = tables.map((table, index) => {
    const { falseFindings: paid, all } = table;
    return [String(settings[index]!.falseFindingsPerYear), `${paid.perYear.toFixed(2)} (${paid.low.toFixed(2)} to ${paid.high.toFixed(2)})`, all.foundShare === null ? '–' : `${Math.round(all.foundShare * 100)} % of ${all.found + all.missed}`, all.delayMedianH === null ? '–' : `${Math.round(all.delayMedianH)} h`];
  });
  const rows = [['asked a year', 'false a generator-year', 'found', 'half within'], ...lines];
  const widths = rows[0]!.map((_, column) => Math.max(...rows.map((row) => row[column]!.length)));
  return rows.map((row) => row.map((cell, column) => cell.padEnd(widths[column]!)).join('  ').trimEnd()).join('\n');
}
