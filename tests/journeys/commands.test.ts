// Issue: commands: help with an example, exit codes 0 done, 1 failed, 2 wrong use, the design's JSON, silence in a pipe.
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Entry } from '../../shared/entry.ts';
import type { RankingReport } from '../../shared/finding.ts';
import { freePort, runLull, startLull, untilUp } from './lull-process.ts';

const COMMANDS = ['serve', 'demo', 'simulate', 'import', 'export', 'replay', 'rank', 'findings', 'visit', 'quarantine', 'check-config', 'gateway', 'doctor'];
let folder: string;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lull-commands-'));
  // An invented fleet over a few days, as any simulator could have written it; taken in by the import.
  const simulated = await runLull(['simulate', '--out', 'recording', '--days', '3', '--end', '2026-03-05T00:00:00Z'], folder);
  expect(simulated.said).toBe('');
  expect(simulated.code).toBe(0);
  const imported = await runLull(['import', 'recording', '--data', 'data'], folder);
  expect(imported.said).toBe('');
  expect(imported.code).toBe(0);
}, 120_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

test('each command has a help with an example, and is listed', async () => {
  const overview = await runLull(['--help'], folder);
  expect(overview.code).toBe(0);
  for (const name of COMMANDS) {
    const help = await runLull([name, '--help'], folder);
    expect(help.code).toBe(0);
    expect(help.out).toContain(`lull ${name}`);
    expect(help.out).toMatch(/Example:\n {2}\S/);
    expect(overview.out).toContain(`  ${name}`);
  }
});

test('wrong use ends with 2 and one line that says what to do', async () => {
  const wrong = [
    [[], 'lull COMMAND'],
    [['replya'], 'did you mean "replay"?'],
    [['replay'], 'FOLDER is missing'],
    [['rank', '--jsn'], "Unknown option '--jsn'; did you mean --json?\nsee lull rank --help"],
    [['nonsense'], 'there is no command "nonsense"\nsee lull --help'],
    [['rank', 'extra'], 'unexpected argument "extra"'],
    [['demo', '--days', 'many'], '--days must be a number'],
    [['demo', '--http-port', '99999'], '--http-port must be a number from 1 to 65535'],
    [['demo', '--time-scale', '-1'], "Option '--time-scale' argument is ambiguous"],
    [['serve', '--clock', '60'], '--clock must be START@N'],
    [['visit', 'quay-7/gen-1', '--started', '2026-03-02'], '--by NAME is missing'],
    [['visit', 'quay-7', '--by', 'N', '--started', '2026-03-02'], 'SITE/GENERATOR'],
    [['visit', 'quay-7/gen-1', '--by', 'N', '--started', '2026-03-02', '--replaced', 'wheel'], 'replaced'],
    [['quarantine', '--reason', 'dull'], '--reason must be one of'],
    [['simulate'], 'give either --out'],
    [['replay', 'recording', '--until', 'soon'], '--until must be a time'],
  ] as const;
  for (const [args, says] of wrong) {
    const ended = await runLull([...args], folder);
    expect([args, ended.code]).toEqual([args, 2]);
    expect(ended.out + ended.said).toContain(says);
    expect(ended.said).not.toContain('    at ');
  }
});

test('what fails ends with 1 and one line that says what to do; LULL_DEBUG adds the stack', async () => {
  const failing = [
    [['rank', '--data', 'nowhere'], 'there are no records'],
    [['replay', 'nowhere'], 'is no recording'],
    [['export', 'out', '--data', 'nowhere'], 'there are no records'],
    [['serve', '--role', 'ingest'], 'these stores are not there yet'],
    [['quarantine', '--release', '1', '--by', 'N', '--data', 'data'], 'start lull serve first'],
  ] as const;
  for (const [args, says] of failing) {
    const ended = await runLull([...args], folder);
    expect([args, ended.code]).toEqual([args, 1]);
    expect(ended.said).toContain(says);
    expect(ended.said.trim().split('\n')).toHaveLength(1);
  }
  expect((await runLull(['rank', '--data', 'nowhere'], folder, { LULL_DEBUG: '1' })).said).toContain('    at ');
  const refused = await runLull(['import', 'recording', '--data', 'data'], folder, { LULL_INFLUX_URL: `http://127.0.0.1:${await freePort()}` });
  expect([refused.code, refused.said]).toEqual([1, expect.stringMatching(/LULL_INFLUX_URL: .*ECONNREFUSED/)]);
  const unknown = await runLull(['serve'], folder, { LULL_HTP_PORT: '1' });
  expect([unknown.code, unknown.said]).toEqual([1, expect.stringContaining('did you mean LULL_HTTP_PORT?')]);
  const noNumber = await runLull(['serve'], folder, { LULL_HTTP_PORT: 'abc' });
  expect([noNumber.code, noNumber.said]).toEqual([1, expect.stringContaining('LULL_HTTP_PORT: must be a whole number from 0 to 65535: current value is "abc"')]);
});

test('rank, findings and replay give the one object of the design, and a table within 100 columns', async () => {
  for (const args of [['rank', '--data', 'data'], ['findings', '--data', 'data'], ['replay', 'recording']]) {
    const json = await runLull([...args, '--json'], folder);
    expect([args, json.code, json.said]).toEqual([args, 0, '']);
    const report = JSON.parse(json.out) as RankingReport;
    expect(Object.keys(report).sort()).toEqual(['at', 'findings', 'ranking']);
    expect(report.ranking.map((row) => row.rank)).toEqual(report.ranking.map((_, index) => index + 1));
    expect(report.ranking.length).toBeGreaterThanOrEqual(40);
    for (const finding of report.findings) expect(finding.causes.reduce((sum, one) => sum + one.probability, 0)).toBeCloseTo(1, 6);
    const text = await runLull(args, folder);
    expect(Math.max(...text.out.split('\n').map((line) => line.length))).toBeLessThanOrEqual(100);
  }
});

test('replay of the exported log finds what was found, and --until knows no more than was known then', async () => {
  const found = JSON.parse((await runLull(['findings', '--json', '--data', 'data'], folder)).out) as RankingReport;
  expect((await runLull(['export', 'exported', '--data', 'data'], folder)).code).toBe(0);
  const again = JSON.parse((await runLull(['replay', 'exported', '--json'], folder)).out) as RankingReport;
  expect(again.at).toBe(found.at);
  expect(again.findings).toEqual(found.findings);
  expect(again.ranking).toEqual(found.ranking);
  const until = JSON.parse((await runLull(['replay', 'exported', '--json', '--until', '2026-03-03T00:00:00Z'], folder)).out) as RankingReport;
  expect(until.at).toBe('2026-03-03T00:00:00.000Z');
  for (const finding of until.findings) expect(finding.openedAt <= '2026-03-03T00:00:00.000Z').toBe(true);
  const speed = await runLull(['replay', 'exported', '--speed', 'report'], folder);
  expect(speed.said).toMatch(/^\d+ readings in [\d.]+ s: \d+ readings\/s, at most \d+ MB\n$/);
});

test('simulate writes the same random fleet for the same seed, with its truth, and replay reads it', async () => {
  for (const name of ['random-a', 'random-b']) expect((await runLull(['simulate', '--out', name, '--generators', '3', '--seed', '5', '--days', '2', '--end', '2026-03-05T00:00:00Z'], folder)).code).toBe(0);
  for (const file of ['readings.ndjson', 'truth.json', 'sites.json']) expect(readFileSync(join(folder, 'random-a', file), 'utf8')).toBe(readFileSync(join(folder, 'random-b', file), 'utf8'));
  expect(Object.keys(JSON.parse(readFileSync(join(folder, 'random-a', 'truth.json'), 'utf8')) as object).sort()).toEqual(['branches', 'faults', 'upsets']);
  const replayed = await runLull(['replay', 'random-a', '--json'], folder);
  expect((JSON.parse(replayed.out) as RankingReport).ranking).toHaveLength(3);
});

test('import takes a recording once, however often it is imported', async () => {
  const first = await runLull(['import', 'random-a', '--data', 'twice'], folder);
  expect([first.code, first.said]).toEqual([0, '']);
  expect(first.out).not.toMatch(/^0 readings/);
  const again = await runLull(['import', 'random-a', '--data', 'twice'], folder);
  expect(again.code).toBe(0);
  expect(again.out).toMatch(/^0 readings from \d+ packets/);
});

test('visit records an entry with and without a server; a second server on the folder is refused', async () => {
  const given = ['visit', 'quay-7/gen-1', '--by', 'R. Lind', '--started', '2026-03-04T09:30:00Z', '--finished', '2026-03-04T11:00:00Z', '--replaced', 'coalescing-element', '--as-left', 'tankKPa=640', '--data', 'data', '--json'];
  const offline = await runLull(given, folder);
  expect(offline.code).toBe(0);
  expect(JSON.parse(offline.out)).toMatchObject({ site: 'quay-7', generator: 'gen-1', kind: 'service', replaced: ['coalescing-element'], readings: { asLeft: { tankKPa: 640 } } });
  const [httpPort, mqttPort] = [await freePort(), await freePort()];
  const server = startLull(['serve', '--data', 'data', '--http-port', String(httpPort), '--mqtt-port', String(mqttPort), '--clock', '2026-03-05T01:00:00Z@1'], folder);
  try {
    await untilUp(server, `http://127.0.0.1:${httpPort}`, 30);
    const online = await runLull([...given, '--note', 'again'], folder);
    expect(online.said).toBe('');
    expect((JSON.parse(online.out) as Entry).recordedAt.slice(0, 13)).toBe('2026-03-05T01');
    const second = await runLull(['serve', '--data', 'data'], folder);
    expect([second.code, second.said]).toEqual([1, expect.stringContaining('a server runs on')]);
    const exporting = await runLull(['export', 'busy', '--data', 'data'], folder);
    expect([exporting.code, exporting.said]).toEqual([1, expect.stringContaining('stop it first')]);
    const taken = await runLull(['serve', '--data', 'other', '--http-port', String(httpPort), '--mqtt-port', '0'], folder);
    expect([taken.code, taken.said]).toEqual([1, expect.stringContaining(`port ${httpPort}`)]);
    expect((await runLull(['doctor', '--data', 'data'], folder)).code).toBe(0);
  } finally {
    server.child.kill('SIGTERM');
  }
  expect((await server.ended).code).toBe(0);
});

test('check-config shows values, origins and the registry with defaults, or every problem', async () => {
  mkdirSync(join(folder, 'configured'));
  writeFileSync(join(folder, 'configured', 'sites.yaml'), 'sites: [{ id: quay-7, generators: [{ id: gen-1 }] }]\n');
  const good = await runLull(['check-config'], folder, { LULL_DATA: 'configured', LULL_MQTT_PASSWORD: 'sesame' });
  expect(good.code).toBe(0);
  expect(good.out).toContain('"dutyRatio": 0.5');
  expect(good.out).not.toContain('sesame');
  writeFileSync(join(folder, 'configured', 'sites.yaml'), 'sites: [{ id: Quay, generators: [{ id: gen-1, tankLiters: 3 }] }]\n');
  const bad = await runLull(['check-config'], folder, { LULL_DATA: 'configured' });
  expect(bad.code).toBe(1);
  expect(bad.said).toContain('sites.0.id');
  expect(bad.said).toContain('tankLiters');
});

test('gateway makes a line for the file of gateways and shows the secret apart', async () => {
  const made = await runLull(['gateway', 'gw-1', '--site', 'quay-7'], folder);
  expect(made.code).toBe(0);
  expect(made.out).toMatch(/^ {2}- \{ name: gw-1, sites: \[quay-7\], secret: "scrypt\$/);
  expect(made.said).toMatch(/^user gw-1, password \S{32}\n$/);
});

test('the README names the commands that there are', () => {
  const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8');
  for (const name of COMMANDS) expect(readme).toContain(`\`${name}\``);
});
