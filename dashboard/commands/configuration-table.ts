import { configSchema, environmentName, SECRET_KEYS } from '../../shared/config.ts';
import { analysisSettingsSchema } from '../../shared/analysis-settings.ts';

/** The settings as a table in Markdown: what stands in the README, made from the schema so that it can't go stale. */
export function configurationTable(): string {
  const defaults: Record<string, unknown> = configSchema.parse({});
  const rows = Object.entries(configSchema.shape)
    .filter(([key]) => key !== 'analysis')
    .map(([key, schema]) => [`\`${environmentName(key)}\``, `\`${key}\``, shown(defaults[key]), schema.description ?? '']);
  const analysisDefaults: Record<string, unknown> = analysisSettingsSchema.parse({});
  const analysis = Object.keys(analysisSettingsSchema.shape).map((key) => ['(file only)', `\`analysis: { ${key} }\``, shown(analysisDefaults[key]), ANALYSIS_SAYS[key] ?? '']);
  const secrets = SECRET_KEYS.map((key) => `\`${environmentName(key)}_FILE\``).join(', ');
  return [
    '| environment | in `lull.yaml` | default | means |',
    '|---|---|---|---|',
    '| `LULL_CONFIG` | | `lull.yaml`, if there | the file with settings |',
    ...[...rows, ...analysis].map((cells) => `| ${cells.join(' | ')} |`),
    '',
    `Secrets can be read from a file: ${secrets}. An unknown name is refused at the start, with the nearest right one.`,
  ].join('\n');
}

const ANALYSIS_SAYS: Readonly<Record<string, string>> = {
  falseFindingsPerYear: 'the price: false findings per healthy generator and year that change detection may cost',
  baselineDays: 'days of good data that a baseline wants before change is looked for',
  smallestChange: 'smallest change of demand or delivery that is worth a finding, as ln(after/before)',
  horizonDays: 'how far ahead forecasts look, days',
  energyPricePerKWh: 'what a kWh costs, for what a year of running time costs; without it only kWh are told',
  energyCurrency: 'what that price is in',
};

function shown(value: unknown): string {
  return value === undefined ? '–' : `\`${typeof value === 'string' ? value : JSON.stringify(value)}\``;
}
