// Issue: "The main job, end to end": a page shows what a gateway sends, what was refused, and whether units look plausible.
import { expect, test } from 'vitest';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { type GatewayGenerator, gatewayRows } from '../../../dashboard/views/gateway-rows.ts';
import { freshForMs, latestValue } from '../../../dashboard/views/latest-values.ts';
import { plausibleValue } from '../../../dashboard/views/plausible-value.ts';

const key = (text: string): GeneratorKey => text as GeneratorKey;
const generator = (id: string): GatewayGenerator => ({ generator: id, generatorName: `the ${id}`, claimed: true, lastHeardAt: null, reportEveryS: null, silent: true, channels: [], refused: [] });

test('gatewayRows() puts each generator behind its gateways, the rest in one row a site, and loses none', () => {
  const generators = new Map(['b/gen-1', 'a/gen-1', 'a/gen-2', 'a/gen-3', 'c/gen-1'].map((one) => [key(one), generator(one.slice(2))]));
  const rows = gatewayRows([{ atMs: 0, site: 'a', gateway: 'box', online: false, generators: [key('a/gen-2'), key('a/gone')] }, { atMs: 0, site: 'b', gateway: 'box', online: true, generators: [] }], generators, (site) => `Site ${site}`);
  expect(rows.map((row) => [row.site, row.gateway, row.online, row.generators.map((one) => one.generator)])).toEqual([
    ['a', 'box', false, ['gen-2']], ['a', null, null, ['gen-1', 'gen-3']], ['b', 'box', true, []], ['b', null, null, ['gen-1']], ['c', null, null, ['gen-1']],
  ]);
  expect(rows.map((row) => row.siteName)).toEqual(['Site a', 'Site a', 'Site b', 'Site b', 'Site c']);
  expect(rows[0]?.generators[0]?.generatorName).toBe('the gen-2');
  expect(rows[0]?.changedAt).toBe('1970-01-01T00:00:00.000Z');
});

test('plausibleValue() sees a tank in bar sent as Pa, °F sent as °C, a ratio sent as per cent, and leaves good values alone', () => {
  expect(plausibleValue('tank-pressure', 0.0069)).toMatchObject({ plausible: false, plausibleSays: expect.stringMatching(/bar or psi/) });
  expect(plausibleValue('room-temperature', 72)).toMatchObject({ plausible: false, plausibleSays: expect.stringMatching(/Fahrenheit/) });
  expect(plausibleValue('humidity', 0.55)).toMatchObject({ plausible: false, plausibleSays: expect.stringMatching(/ratio/) });
  expect(plausibleValue('nitrogen', 0.021)).toMatchObject({ plausible: false, plausibleSays: expect.stringMatching(/oxygen/) });
  expect(plausibleValue('system-pressure.riser-1', 5000).plausible).toBe(false);
  for (const [channel, value] of [['tank-pressure', 650], ['room-temperature', -12], ['humidity', 55], ['nitrogen', 0.98], ['oxygen', 0.02], ['running', 1], ['system-pressure.riser-1', 240], ['discharge-pressure', 0]] as const) expect([channel, plausibleValue(channel, value).plausible]).toEqual([channel, true]);
});

test('freshForMs() is three reports, never less than 5 min', () => {
  expect([freshForMs(60), freshForMs(100), freshForMs(3600)]).toEqual([300_000, 300_000, 10_800_000]);
});

test('latestValue() keeps a run state for 75 min, but only of a generator that is heard', () => {
  const nowMs = 1e12;
  const value = (channel: 'running' | 'tank-pressure', ageMin: number, heardMin: number): boolean => latestValue({ channel, value: 1, atMs: nowMs - ageMin * 60_000, words: { label: '', unit: '', slow: channel === 'running' }, reportEveryS: 60, lastHeardMs: nowMs - heardMin * 60_000, nowMs }).fresh;
  expect([value('tank-pressure', 5, 0), value('tank-pressure', 5.1, 0)]).toEqual([true, false]);
  // The page holds a value that came since against the same span.
  expect(latestValue({ channel: 'running', value: 1, atMs: nowMs, words: { label: '', unit: '', slow: true }, reportEveryS: 60, lastHeardMs: nowMs, nowMs }).holdsS).toBe(75 * 60);
  expect([value('running', 75, 1), value('running', 75.1, 1), value('running', 10, 6)]).toEqual([true, false, false]);
});
