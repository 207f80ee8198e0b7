// Issue: configuration: environment over a file, validated at start, each value with its default and where it came from.
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { examineConfiguration, readConfiguration, registryFileOf } from '../../../dashboard/commands/configuration.ts';
import { configurationTable } from '../../../dashboard/commands/configuration-table.ts';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lull-config-'));
});
afterEach(() => rmSync(folder, { recursive: true }));

const says = (environment: Record<string, string>): string => examineConfiguration(environment, folder).problems.map((problem) => `${problem.where}: ${problem.says}`).join('\n');

test('readConfiguration() gives the defaults of the design', () => {
  const { config, settings } = readConfiguration({}, folder);
  expect(config).toMatchObject({ data: './data', httpHost: '127.0.0.1', httpPort: 4280, mqttHost: '127.0.0.1', mqttPort: 1883 });
  expect(settings.every((setting) => setting.from === 'default' && setting.says !== '')).toBe(true);
});

test('readConfiguration() puts command line over environment over file, and says where each came from', () => {
  writeFileSync(join(folder, 'lull.yaml'), 'httpPort: 5000\nmqttPort: 5001\nkeepReadingsDays: 90\nanalysis:\n  baselineDays: 21\n');
  const { config, settings } = readConfiguration({ LULL_HTTP_PORT: '6000', LULL_MQTT_PORT: '6001' }, folder, { mqttPort: 7001 });
  expect(config).toMatchObject({ httpPort: 6000, mqttPort: 7001, keepReadingsDays: 90, analysis: { baselineDays: 21, horizonDays: 365 } });
  const from = Object.fromEntries(settings.map((setting) => [setting.key, setting.from]));
  expect(from).toMatchObject({ httpPort: 'LULL_HTTP_PORT', mqttPort: 'command line', keepReadingsDays: join(folder, 'lull.yaml'), data: 'default' });
});

test('examineConfiguration() refuses unknown names with the nearest right one', () => {
  expect(says({ LULL_HTP_PORT: '1' })).toBe('LULL_HTP_PORT: is not a setting; did you mean LULL_HTTP_PORT?');
  expect(says({ LULL_MQTT_PASWORD_FILE: 'x' })).toContain('did you mean LULL_MQTT_PASSWORD_FILE?');
  expect(says({ LULL_ZZZ: '1' })).toContain('the settings are LULL_DATA, ');
  writeFileSync(join(folder, 'lull.yaml'), 'htpPort: 1\nanalysis: { baselineDay: 3 }\n');
  expect(says({})).toContain('htpPort: is not a setting; did you mean httpPort?');
  expect(says({})).toContain('did you mean baselineDays?');
});

test('examineConfiguration() lists every problem, with what was written', () => {
  const text = says({ LULL_HTTP_PORT: '99999', LULL_MQTT_URL: 'broker:1883', LULL_KEEP_READINGS_DAYS: 'soon' });
  expect(text.split('\n')).toHaveLength(3);
  expect(text).toContain('LULL_HTTP_PORT');
  expect(text).toContain('"99999"');
  expect(text).toContain('mqtt://broker.example:1883');
});

test('readConfiguration() reads secrets from files, and says which file it could not read', () => {
  writeFileSync(join(folder, 'secret'), 'open sesame\n');
  expect(readConfiguration({ LULL_MQTT_PASSWORD_FILE: 'secret' }, folder).config.mqttPassword).toBe('open sesame');
  expect(says({ LULL_MQTT_PASSWORD_FILE: 'none' })).toContain("LULL_MQTT_PASSWORD_FILE: can't read the file");
  expect(() => readConfiguration({ LULL_CONFIG: 'none.yaml' }, folder)).toThrow(/LULL_CONFIG: can't read .*none\.yaml/);
});

test('readConfiguration() refuses to listen where strangers reach it', () => {
  expect(says({ LULL_HTTP_HOST: '0.0.0.0' })).toContain('must be a loopback address');
  expect(says({ LULL_MQTT_HOST: '192.168.1.4' })).toContain('LULL_MQTT_GATEWAYS');
  expect(says({ LULL_MQTT_HOST: '192.168.1.4', LULL_MQTT_GATEWAYS: 'gateways.yaml' })).toBe('');
  expect(says({ LULL_MQTT_HOST: '192.168.1.4', LULL_MQTT_URL: 'mqtt://broker.example' })).toBe('');
  expect(says({ LULL_HTTP_HOST: '::1' })).toBe('');
});

test('registryFileOf() finds sites.yaml or sites.json in the data folder, or the named file', () => {
  const { config } = readConfiguration({}, folder, { data: '.' });
  expect(registryFileOf(config, folder)).toBeUndefined();
  writeFileSync(join(folder, 'sites.json'), '{"sites":[]}');
  expect(registryFileOf(config, folder)).toBe(join(folder, 'sites.json'));
  expect(registryFileOf({ ...config, sites: 'mine.yaml' }, folder)).toBe(join(folder, 'mine.yaml'));
});

test('configurationTable() is what the README shows', () => {
  const readme = readFileSync(new URL('../../../README.md', import.meta.url), 'utf8');
  expect(/<!-- made by: lull check-config --markdown -->\n([\s\S]*?)\n<!-- end -->/.exec(readme)?.[1]).toBe(configurationTable());
});
