import { createHash } from 'node:crypto';
import { z } from 'zod';

/** What a person can set about the analysis, under `analysis:` in `lull.yaml`. Every finding carries the hash of these. */
export const analysisSettingsSchema = z.strictObject({
  /** The price: false findings per healthy generator and year that the change detectors may cost, all series together. */
  falseFindingsPerYear: z.number().gt(0).max(10).default(0.05),
  /** Days of good data that a baseline wants before change is looked for. */
  baselineDays: z.number().int().min(3).max(60).default(14),
  /** Smallest change of demand or delivery that is worth a finding, as ln(after/before). */
  smallestChange: z.number().gt(0).max(1).default(0.1),
  /** How far ahead forecasts look. */
  horizonDays: z.number().int().min(30).max(1000).default(365),
  /** What a kWh costs, and in what: for what a year of running time costs. Without it only kWh are told. */
  energyPricePerKWh: z.number().positive().optional(),
  energyCurrency: z.string().min(1).max(12).optional(),
});
export type AnalysisSettings = z.infer<typeof analysisSettingsSchema>;
export const DEFAULT_ANALYSIS_SETTINGS: AnalysisSettings = analysisSettingsSchema.parse({});

/** First 12 hex digits of SHA-256 over the settings in order of their names; prices change no finding and are left out. */
export function hashOfSettings(settings: AnalysisSettings): string {
  const ordered = Object.entries(settings).filter(([name]) => !name.startsWith('energy')).sort(([a], [b]) => (a < b ? -1 : 1));
  return createHash('sha256').update(JSON.stringify(ordered)).digest('hex').slice(0, 12);
}
