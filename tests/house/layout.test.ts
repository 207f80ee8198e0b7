// Issue: the house style: no barrel, no folder for leftovers, a page in each folder, nothing switched off.
import { existsSync } from 'node:fs';
import { join, posix } from 'node:path';
import { expect, test } from 'vitest';
import { SERVERS } from '../servers.mjs';
import { filesBelow, ROOMS, ROOT, sourceFiles } from './sources.ts';

const code = ROOMS.flatMap(filesBelow).filter((path) => /\.tsx?$/.test(path));

test('there is no barrel and no folder for leftovers', () => {
  const wrong = code.filter((path) => /(^|\/)index\.tsx?$/.test(path) || /(^|\/)(utils?|helpers?|types|common|misc|lib)\//.test(path));
  expect(wrong).toEqual([]);
});

test('each folder of code has a README of a page', () => {
  const folders = [...new Set(code.map((path) => posix.dirname(path)))];
  expect(folders.length).toBeGreaterThan(10);
  expect(folders.filter((folder) => !existsSync(join(ROOT, folder, 'README.md')))).toEqual([]);
});

test('no test is switched off, focused or left to be written', () => {
  const switched = sourceFiles(['tests']).filter((file) => file.path !== 'tests/house/layout.test.ts' && /\b(it|test|describe)\.(only|skip|skipIf|runIf|todo|fails)\b/.test(file.code));
  expect(switched.map((file) => file.path)).toEqual([]);
});

test('each test file says in its first line where its expectations come from', () => {
  const silent = sourceFiles(['tests']).filter((file) => /\.test\.tsx?$/.test(file.path) && !/^\/\/ (Source|Reference|World|Issue|Identity):/.test(file.text));
  expect(silent.map((file) => file.path)).toEqual([]);
});

test('each test that starts a server is listed by it, so that it is left out by name where that server is missing', () => {
  const starts: Readonly<Record<string, RegExp>> = { mosquitto: /\bstartMosquitto\(|'mosquitto(_pub)?'/, influxd: /\bstartInflux\w*\(|'influxd'/, chromium: /\/real-pages\.ts'|chromium\.launch/ };
  const tests = sourceFiles(['tests']).filter((file) => file.path.endsWith('.test.ts') && !file.path.startsWith('tests/house/'));
  for (const [server, pattern] of Object.entries(starts)) {
    expect([server, tests.filter((file) => pattern.test(file.code)).map((file) => file.path)]).toEqual([server, [...(SERVERS[server]?.tests ?? [])].sort()]);
  }
});
