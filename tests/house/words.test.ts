// Issue: the design, section 2, "Keep out": words that we don't use for our own items, and nothing that points at one machine.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { filesBelow, ROOMS, ROOT } from './sources.ts';

/** NFPA 72 keeps the first line's words for listed signalling; people and authorities say the second's. */
const KEPT_OUT = [
  /\b(alarms?|supervisory|troubles?)\b/i,
  /\b(certified|compliant|approved|inspected)\b/i,
  /\b(red|yellow|green|blue)[- ]tag(ged|s)?\b/i,
  /\b(health scores?|digital twins?|insights?|smart|command cent(er|re)s?|hubs?|guardians?|pulses?|tickets?|work orders?|dispatch boards?|traffic lights?|asset trees?)\b/i,
  /\bAI\b/,
];
/** A sentence about listed signalling or about published data may use them: it says so in the same line. */
const MAY_SAY = /listed|required signal|supervising station|NFPA|NIST|certified value/i;

const MACHINE = [/\/(work|farm)\//, /\/tmp\/[a-z]/, /\/(root|home)\//, /registry\.npmjs|deb\.debian\.org/, /\b(TODO|FIXME|XXX|HACK)\b/];

const TEXTS = [...ROOMS, 'tests', '.ci'].flatMap(filesBelow).concat('README.md', 'DEVELOPERS.md', 'package.json').filter((path) => /\.(tsx?|mjs|css|html|md|json|yaml)$|^\.ci\/run$/.test(path));

function found(paths: readonly string[], patterns: readonly RegExp[], excused?: RegExp): string[] {
  return paths.flatMap((path) =>
    readFileSync(join(ROOT, path), 'utf8')
      .split('\n')
      .flatMap((line, index) => (patterns.some((pattern) => pattern.test(line)) && excused?.test(line) !== true ? [`${path}:${index + 1}: ${line.trim().slice(0, 140)}`] : [])),
  );
}

test('our own items are not called what the design keeps out', () => {
  const own = TEXTS.filter((path) => !path.startsWith('tests/') && path !== 'package.json');
  expect(found(own, KEPT_OUT, MAY_SAY)).toEqual([]);
});

test('nothing points at one machine, and nothing is left open', () => {
  expect(found(TEXTS.filter((path) => path !== 'tests/house/words.test.ts'), MACHINE)).toEqual([]);
});
