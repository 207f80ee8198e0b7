// Issue: the README's mosquitto_pub line works when pasted: the generator is listed at once, with the values sent.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import type { GeneratorDetail, OverviewRow, Page } from '../../shared/api.ts';
import { findProgram } from '../servers.mjs';
import { eventually, freePort, getJson, startLull, untilUp } from './lull-process.ts';

const folder = mkdtempSync(join(tmpdir(), 'lull-readme-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

test("the README's line for mosquitto_pub reaches a server started as the README says", async () => {
  const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8');
  const line = /^mosquitto_pub .*$/m.exec(readme)?.[0] ?? '';
  expect(line).toContain(' -p 1883 ');
  const [httpPort, mqttPort] = [await freePort(), await freePort()];
  const lull = startLull(['serve', '--http-port', String(httpPort), '--mqtt-port', String(mqttPort)], folder);
  const url = `http://127.0.0.1:${httpPort}`;
  try {
    await untilUp(lull, url, 20);
    // Only the port differs from what a person pastes: tests run beside each other.
    execFileSync('sh', ['-c', line.replace(/^mosquitto_pub/, findProgram('mosquitto_pub') ?? '').replace('-p 1883', `-p ${mqttPort}`)]);
    const row = await eventually('the generator on the Overview', 10, async () => (await getJson<Page<OverviewRow>>(`${url}/api/v1/overview`)).items[0]);
    expect(row).toMatchObject({ site: 'quay-7', generator: 'gen-1', claimed: false });
    const { latest } = await getJson<GeneratorDetail>(`${url}/api/v1/generators/quay-7/gen-1`);
    expect(Object.fromEntries(latest.map(({ channel, value, unit }) => [channel, `${value} ${unit}`]))).toEqual({ running: '1 0/1', 'tank-pressure': '612 kPa', 'room-temperature': '21.5 °C' });
  } finally {
    lull.child.kill('SIGTERM');
  }
  expect((await lull.ended).code).toBe(0);
});
