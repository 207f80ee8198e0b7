import { existsSync } from 'node:fs';
import { ConfigError } from '../../shared/errors.ts';
import { generatorsOf } from '../../shared/registry.ts';
import { configurationTable } from './configuration-table.ts';
import { defineCommand } from './command.ts';
import { examineConfiguration, registryFileOf, type Setting } from './configuration.ts';
import { readRegistryFile } from './registry-source.ts';
import { table } from './terminal.ts';

export const checkConfig = defineCommand({
  name: 'check-config',
  summary: 'show every setting, where it came from, and the registry with its defaults filled in',
  options: {
    json: { type: 'boolean', says: 'one JSON object instead of text' },
    markdown: { type: 'boolean', says: 'the table of settings as it stands in the README, without reading any' },
  },
  example: 'LULL_HTTP_PORT=8080 npx --no-install lull check-config',
  more: 'Ends with exit code 1 if a setting or the registry has a problem, and names each.',
  async run(values, _given, { environment, folder, terminal }) {
    if (values.markdown === true) {
      terminal.out(configurationTable());
      return;
    }
    const { configuration, problems } = examineConfiguration(environment, folder);
    if (configuration === undefined) throw new ConfigError([`${problems.length === 1 ? 'one problem' : `${problems.length} problems`} in the configuration:`, ...problems.map((problem) => `  ${problem.where}: ${problem.says}`)].join('\n'));
    const file = registryFileOf(configuration.config, folder);
    if (file !== undefined && !existsSync(file)) throw new ConfigError(`there is no registry file ${file}; write one, or leave LULL_SITES out`);
    const registry = file === undefined ? undefined : readRegistryFile(file);
    if (values.json === true) {
      terminal.out(JSON.stringify({ settings: configuration.settings.map(({ secret, ...setting }) => ({ ...setting, value: secret ? hidden(setting.value) : (setting.value ?? null), fallback: setting.fallback ?? null })), registryFile: file ?? null, registry: registry ?? null }, null, 2));
      return;
    }
    terminal.out(table(['setting', 'value', 'from', 'default', 'means'], configuration.settings.flatMap(rowsOf), 200));
    if (registry === undefined) terminal.out('\nno registry file (sites.yaml in the data folder): every generator that is heard is listed as unclaimed');
    else terminal.out(`\n${file}: ${registry.sites.length} sites, ${generatorsOf(registry).length} generators, with defaults filled in:\n${JSON.stringify(registry, null, 2)}`);
  },
});

/** One row a setting; those of the analysis one by one. */
function rowsOf(setting: Setting): string[][] {
  if (typeof setting.value !== 'object' || setting.value === null) return [cells(setting)];
  const fallbacks = setting.fallback as Readonly<Record<string, unknown>>;
  return Object.entries(setting.value).map(([name, value]) => cells({ ...setting, key: `${setting.key}.${name}`, value, fallback: fallbacks[name] }));
}

function cells(setting: Setting): string[] {
  const show = (value: unknown): string => (value === undefined ? '–' : typeof value === 'string' ? value : JSON.stringify(value));
  return [setting.environment === '' ? setting.key : setting.environment, setting.secret ? show(hidden(setting.value)) : show(setting.value), setting.from, show(setting.fallback), setting.says];
}

/** A secret is never printed, nor a URL that may carry one. */
function hidden(value: unknown): unknown {
  return value === undefined ? undefined : '(set)';
}
