import type { AnalysisSettings } from '../shared/analysis-settings.ts';
import type { Forecast } from '../shared/finding.ts';
import type { GeneratorWatch } from './generator-watch.ts';
export function forecastsOf(_watch: GeneratorWatch, _tickMs: number, _settings: AnalysisSettings): Forecast[] {
  return [];
}
export function dueByOf(_watch: GeneratorWatch, _tickMs: number): string | null {
  return null;
}
