// Issue: "Screens for four people", settings: generators are renamed and exchanged with their histories kept; meters are read by hand through the same door.
import { expect, test } from 'vitest';
import { openDesk } from '../../ingest/desk.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import type { LogEvent } from '../../shared/log-event.ts';
import { readingsOf } from '../../shared/reading-batch.ts';
import { keptKeys } from '../../shared/registry-history.ts';
import { parseRegistry, type SiteRecord } from '../../shared/registry.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';

const START_MS = Date.UTC(2026, 2, 2, 12);
const key = (id: string): GeneratorKey => `quay-7/${id}` as GeneratorKey;

function sitesOf(yaml: string): readonly SiteRecord[] {
  const parsed = parseRegistry(yaml);
  if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
  return parsed.registry.sites;
}

async function house() {
  const readings = openMemoryReadings();
  const records = openMemoryRecords();
  const events: LogEvent[] = [];
  const clock = { at: START_MS, nowMs: () => clock.at };
  let kept: ReadonlyMap<GeneratorKey, GeneratorKey> = new Map();
  const desk = await openDesk({ readings, records, registry: () => undefined, keptAs: (published) => kept.get(published) ?? published, clock, log: SILENT_LOG, onEvent: (event) => events.push(event) });
  const send = (topic: string, payload: unknown) => new Promise<void>((resolve, reject) => desk.take({ topic, payload: Buffer.from(JSON.stringify(payload)), dup: false }, (error) => (error === undefined ? resolve() : reject(error))));
  const pressures = async (id: string) => [...readingsOf(await readings.byDeviceTime({ generator: key(id), fromMs: 0, toMs: 1e15 }))].filter((one) => one.channel === 'tank-pressure').map((one) => one.value);
  return { desk, records, events, clock, send, pressures, register: (yaml: string) => void (kept = keptKeys(sitesOf(yaml))) };
}

const kPa = (v: number) => [{ n: 'tank-pressure', u: 'kPa', v }];

test('two exchanged generators keep their own histories from the change on', async () => {
  const { send, pressures, register, clock, desk, events } = await house();
  await send('lull/v1/quay-7/gen-1/readings', kPa(601));
  await send('lull/v1/quay-7/gen-2/readings', kPa(502));
  register('sites: [{ id: quay-7, generators: [{ id: gen-1, publishesAs: gen-2 }, { id: gen-2, publishesAs: gen-1 }] }]');
  clock.at += 60_000;
  await send('lull/v1/quay-7/gen-2/readings', kPa(603));
  await send('lull/v1/quay-7/gen-1/readings', kPa(504));
  expect(await pressures('gen-1')).toEqual([601, 603]);
  expect(await pressures('gen-2')).toEqual([502, 504]);
  expect(desk.heard(key('gen-1'))?.lastHeardMs).toBe(clock.at);
  expect(desk.recentPackets(key('gen-1')).map((one) => one.topic)).toEqual(['lull/v1/quay-7/gen-2/readings', 'lull/v1/quay-7/gen-1/readings']);
  await send('lull/v1/quay-7/presence/box-1', { online: false, generators: ['gen-2'] });
  expect(events.at(-1)).toMatchObject({ kind: 'presence', event: { generators: ['quay-7/gen-1'] } });
});

test('a gateway that publishes under a new id goes on with the old history, and what is refused is listed under it', async () => {
  const { send, pressures, register, records, desk, clock } = await house();
  await send('lull/v1/quay-7/gen-1/readings', kPa(601));
  register('sites: [{ id: quay-7, generators: [{ id: gen-1, publishesAs: box-2-port-1 }] }]');
  clock.at += 60_000;
  await send('lull/v1/quay-7/box-2-port-1/readings', kPa(602));
  await send('lull/v1/quay-7/box-2-port-1/readings', [{ n: 'tank-pressure', u: 'furlong', v: 7 }]);
  expect(await pressures('gen-1')).toEqual([601, 602]);
  expect(await records.quarantineCounts()).toMatchObject([{ generator: 'quay-7/gen-1', reason: 'unknown-unit', count: 1 }]);
  expect(desk.keptUnder('lull/v1/quay-7/box-2-port-1/readings')).toBe('quay-7/gen-1');
  expect(desk.keptUnder('lull/v1/quay-7/presence/box-1')).toBeUndefined();
});

test('parseRegistry() refuses two generators whose readings would arrive under one id', () => {
  expect(parseRegistry('sites: [{ id: quay-7, generators: [{ id: gen-1 }, { id: gen-2, publishesAs: gen-1 }] }]')).toEqual({ problems: [{ where: 'site quay-7, generator gen-2', says: 'publishes as "gen-1", and so does gen-1' }] });
});
