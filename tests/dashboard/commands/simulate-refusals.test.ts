// Issue: "Worlds", `lull simulate` and `lull score` as a person meets them with wrong input: what is wrong, and what to do.
import { existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { eventually, runLull, startLull } from '../../journeys/lull-process.ts';

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'lull-refusals-'));
  mkdirSync(join(folder, 'full'));
  writeFileSync(join(folder, 'full', 'a-file'), 'kept');
  writeFileSync(join(folder, 'broken.yaml'), 'sites: [');
  writeFileSync(join(folder, 'wrong.yaml'), 'name: a\ndays: many\nsites:\n  - id: hall\n    generators: [{ id: gen-1, faults: [{ cause: leek, severity: marked, from: 3 }] }]\n');
  writeFileSync(join(folder, 'settings.yaml'), 'analysis:\n  smallestChange: 0.2\n');
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const OUT = ['--out', 'new'];
test.each([
  [2, ['simulate', ...OUT, '--generators', '1.5'], '--generators must be a whole number from 1 to 5000: current value is "1.5"'],
  [2, ['simulate', ...OUT, '--seed', '0.5'], '--seed must be a whole number'],
  [2, ['simulate', ...OUT, '--generators', '2', '--faults', 'leek'], '--faults must be all, none, or some of leak,'],
  [2, ['simulate', ...OUT, '--end', 'yesterday'], '--end must be a time in ISO 8601'],
  [2, ['simulate', '--publish', 'nonsense'], '--publish must be the address of a broker, such as mqtt://127.0.0.1:1883: current value is "nonsense"'],
  [2, ['simulate', '--publish', 'http://127.0.0.1'], '--publish must be the address of a broker'],
  [1, ['simulate', '--out', 'full'], 'is not empty; name a new folder'],
  [1, ['simulate', '--out', 'full/a-file'], 'is a file; name a new folder'],
  [1, ['simulate', '--out', 'full/a-file/deeper'], 'is a file; name a new folder'],
  [1, ['simulate', ...OUT, '--scenario', 'nowhere.yaml'], 'there is no scenario file'],
  [1, ['simulate', ...OUT, '--scenario', 'full'], 'is a folder; name a scenario file in it'],
  [1, ['simulate', ...OUT, '--scenario', 'broken.yaml'], 'is no YAML or JSON'],
  [1, ['simulate', ...OUT, '--scenario', 'wrong.yaml'], 'sites.0.generators.0.faults.0.cause: Invalid option: expected one of "leak"|'],
  [1, ['score', 'nowhere'], 'there is no such folder'],
  [1, ['score', 'full'], 'it has no readings.ndjson'],
  [2, ['score', 'full', '--tuning'], '--tuning goes with --campaign N'],
  [2, ['score', '--campaign', '2.5'], '--campaign must be a whole number'],
  [2, ['score', '--campaign', '2', '--threads', '0'], '--threads must be a number from 1 to 64'],
  [2, ['score', '--campaign', '2', '--compare', 'settings.yaml'], '--compare wants two configuration files'],
  [1, ['score', '--campaign', '2', '--compare', 'settings.yaml', 'nowhere.yaml'], '--compare: there is no file'],
  [1, ['score', '--campaign', '2', '--picture', 'nowhere/page.html'], 'there is no folder'],
  [1, ['score', '--campaign', '2', '--picture', 'full'], 'it is a folder; name a file in it'],
  [1, ['score', '--campaign', '2', '--keep', 'full/a-file'], '--keep wants a folder'],
] as const)('ends with %d: lull %j', async (code, args, says) => {
  const ended = await runLull([...args], folder);
  expect([ended.code, ended.out]).toEqual([code, '']);
  expect(ended.said).toContain(says);
  // No stack, no name of a system's error, and nothing begun.
  expect(ended.said).not.toMatch(/ {4}at |E[A-Z]{4,}:/);
  expect([existsSync(join(folder, 'new')), existsSync(join(folder, 'data'))]).toEqual([false, false]);
}, 60_000);

test('simulate that is stopped says that what is there is only a part', async () => {
  const long = startLull(['simulate', '--out', 'part', '--generators', '40', '--days', '400'], folder);
  await eventually('the first day', 60, () => (existsSync(join(folder, 'part', 'readings.ndjson')) ? true : undefined));
  long.child.kill('SIGINT');
  const ended = await long.ended;
  expect([ended.code, ended.said]).toEqual([1, expect.stringMatching(/^lull: stopped; .*part holds a part of the recording: delete it, or name another folder\n$/)]);
  expect(existsSync(join(folder, 'part', 'truth.json'))).toBe(false);
}, 120_000);
