// Issue: the house of the design, section 3: clock, dice, environment and terminal only in the program's shell;
// the network in few named places. The pages run in a browser and are exempt.
import { expect, test } from 'vitest';
import { importsOf, type SourceFile, sourceFiles } from './sources.ts';

const SHELL = ['dashboard/commands/', 'dashboard/web/'];
const OUTSIDE: readonly (readonly [what: string, pattern: RegExp])[] = [
  ['the clock', /\bDate\.now\s*\(|\bnew Date\(\s*\)|\bperformance\.now\s*\(|\bprocess\.hrtime\b/],
  ['the dice', /\bMath\.random\b|\brandomUUID\b|\brandomBytes\b|\bgetRandomValues\b/],
  ['the environment', /\bprocess\.(env|argv|cwd|exit|on|kill)\b/],
  ['the terminal', /\bconsole\.|\bprocess\.(stdout|stderr|stdin)\b/],
];

const NETWORK_PLACES = ['ingest/session', 'ingest/embedded-broker', 'shared/store/influxdb', 'shared/store/postgresql', 'simulator/publish', 'dashboard/server/', 'dashboard/notices/', ...SHELL];
const NETWORK_PACKAGES = /^(node:)?(net|http|https|http2|tls|dgram|dns)$|^(mqtt|aedes|express|ws|pg|undici)$|^@influxdata\//;

function touches(files: readonly SourceFile[]): string[] {
  return files
    .filter((file) => !SHELL.some((place) => file.path.startsWith(place)))
    .flatMap((file) => OUTSIDE.filter(([, pattern]) => pattern.test(file.code)).map(([what]) => `${file.path} touches ${what}`));
}

function network(files: readonly SourceFile[]): string[] {
  return files
    .filter((file) => !NETWORK_PLACES.some((place) => file.path.startsWith(place)))
    .filter((file) => /(^|[^.\w])fetch\(/m.test(file.code) || importsOf(file.code).some(({ from, typeOnly }) => !typeOnly && NETWORK_PACKAGES.test(from)))
    .map((file) => `${file.path} touches the network`);
}

test('clock, dice, environment and terminal are touched by the shell only', () => {
  expect(touches(sourceFiles())).toEqual([]);
});

test('the network is touched in the named places only', () => {
  expect(network(sourceFiles())).toEqual([]);
});

test('both rules are checked: a breach is seen', () => {
  const file = (path: string, code: string): SourceFile[] => [{ path, code, text: code }];
  expect(touches(file('analysis/rank.ts', 'const now = Date.now();'))).toHaveLength(1);
  expect(touches(file('analysis/rank.ts', 'const at = new Date(ms).toISOString();'))).toEqual([]);
  expect(touches(file('ingest/decode.ts', "if (process.env['X']) console.log(Math.random());"))).toHaveLength(3);
  expect(network(file('analysis/rank.ts', "import { connect } from 'mqtt';"))).toHaveLength(1);
  expect(network(file('ingest/session.ts', "import { connect } from 'mqtt';"))).toEqual([]);
});
