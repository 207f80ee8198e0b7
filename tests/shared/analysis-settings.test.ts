// Issue: "A diagnosis that holds up", item 9: what a year of running time costs. A price is no setting that finds anything.
import { expect, test } from 'vitest';
import { analysisSettingsSchema, DEFAULT_ANALYSIS_SETTINGS, hashOfSettings } from '../../shared/analysis-settings.ts';

test('hashOfSettings() changes with what finds, and not with what energy costs', () => {
  const priced = analysisSettingsSchema.parse({ energyPricePerKWh: 0.21, energyCurrency: 'EUR' });
  expect(hashOfSettings(priced)).toBe(hashOfSettings(DEFAULT_ANALYSIS_SETTINGS));
  expect(hashOfSettings({ ...priced, smallestChange: 0.2 })).not.toBe(hashOfSettings(priced));
  expect(analysisSettingsSchema.safeParse({ energyPricePerKWh: -1 }).success).toBe(false);
});
