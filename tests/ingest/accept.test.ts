// Issue: "The main job, end to end, on real input", item 3: every packet becomes readings or quarantine items with a reason.
import { expect, test } from 'vitest';
import { createAcceptor, type RegistryLookup } from '../../ingest/accept.ts';
import { type Judged, judgePacket, openPacket, quarantineItems } from '../../ingest/judge-packet.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { batchBuilder, type Reading, readingsOf } from '../../shared/reading-batch.ts';
import { generatorsOf, parseRegistry, unclaimedGenerator } from '../../shared/registry.ts';

const NOW_MS = Date.UTC(2026, 2, 2, 12);
const NOW_S = NOW_MS / 1000;

function desk(registryYaml = 'sites: []') {
  const parsed = parseRegistry(registryYaml);
  if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
  const known = new Map(generatorsOf(parsed.registry).map((one) => [one.key, one]));
  const lookup: RegistryLookup = (key) => known.get(key);
  const acceptor = createAcceptor(lookup);
  return {
    acceptor,
    known,
    send: (payload: unknown, topic = 'lull/v1/quay-7/gen-1/readings', receivedMs = NOW_MS): { judged: Judged; readings: Reading[]; reasons: string[] } => {
      const bytes = payload instanceof Uint8Array ? payload : Buffer.from(typeof payload === 'string' ? payload : JSON.stringify(payload));
      const packet = { topic, payload: bytes, dup: false, receivedMs };
      const into = batchBuilder();
      const judged = judgePacket(packet, openPacket(packet), acceptor, { receivedMs, clockMs: receivedMs }, into);
      return { judged, readings: [...readingsOf(into.take())], reasons: judged.refusals.map(({ reason }) => reason) };
    },
  };
}
const GEN = 'quay-7/gen-1' as GeneratorKey;

test('accept() keeps values in kept units, with device time, receipt and quality', () => {
  const { readings, reasons } = desk().send([{ bn: 'gen-1:', bt: NOW_S, n: 'tank-pressure', u: 'bar', v: 6.4 }, { n: 'running', vb: true }, { n: 'room-temperature', u: 'K', v: 293.15, t: -60 }, { n: 'oxygen', u: '/', v: -0.001 }]);
  expect(reasons).toEqual([]);
  expect(readings).toEqual([
    { generator: GEN, channel: 'tank-pressure', atMs: NOW_MS, value: 640, quality: 0, receivedMs: NOW_MS },
    { generator: GEN, channel: 'running', atMs: NOW_MS, value: 1, quality: 0, receivedMs: NOW_MS },
    { generator: GEN, channel: 'room-temperature', atMs: NOW_MS - 60_000, value: expect.closeTo(20, 9) as number, quality: 0, receivedMs: NOW_MS },
    { generator: GEN, channel: 'oxygen', atMs: NOW_MS, value: -0.001, quality: 0, receivedMs: NOW_MS },
  ]);
});

test('accept() marks times that were relative to now', () => {
  const { readings } = desk().send([{ n: 'running', vb: false, t: -5 }, { n: 'duty', u: '/', v: 0.2 }]);
  expect(readings.map(({ atMs, quality }) => [atMs, quality])).toEqual([[NOW_MS - 5000, 1], [NOW_MS, 1]]);
});

test('openPacket() and accept() give each reason', () => {
  const { send } = desk();
  expect(send('not json').reasons).toEqual(['malformed']);
  expect(send(new Uint8Array([0xff, 0xfe])).reasons).toEqual(['malformed']);
  expect(send([{ n: 'running', vb: true, wheel_: 1 }]).reasons).toEqual(['malformed']);
  expect(send([{ n: 'tank-pressure', u: 'kPa', vs: 'high' }]).reasons).toEqual(['malformed']);
  expect(send([{ n: 'tank-pressure', vb: true }]).reasons).toEqual(['malformed']);
  expect(send(`[${' '.repeat(256 * 1024)}]`).reasons).toEqual(['too-large']);
  expect(send(Array.from({ length: 5001 }, () => ({ n: 'running', vb: true }))).reasons).toEqual(['too-large']);
  expect(send([], 'lull/v1/Quay 7/gen-1/readings').reasons).toEqual(['unknown-topic']);
  expect(send([{ n: 'colour', vs: 'blue' }]).reasons).toEqual(['unknown-channel']);
  expect(send([{ n: 'tank-pressure', u: 'Cel', v: 6 }]).reasons).toEqual(['unknown-unit']);
  expect(send([{ n: 'tank-pressure', v: 6 }]).reasons).toEqual(['unknown-unit']);
  expect(send([{ n: 'duty', u: '%', v: 0.3 }]).reasons).toEqual(['unit-unclear']);
  expect(send([{ n: 'tank-pressure', u: 'bar', v: 640 }]).reasons).toEqual(['out-of-range']);
  expect(send([{ n: 'running', v: 0.5 }]).reasons).toEqual(['out-of-range']);
  expect(send([{ n: 'running', vb: true, bt: NOW_S + 601 }]).reasons).toEqual(['clock-ahead']);
  expect(send([{ n: 'running', vb: true, bt: NOW_S + 600 }]).reasons).toEqual([]);
  expect(send([{ n: 'running', vb: true, bt: NOW_S - 400 * 86_400 - 1 }]).reasons).toEqual(['too-old']);
  expect(send({ online: 'yes' }, 'lull/v1/quay-7/presence/gw-1').reasons).toEqual(['malformed']);
});

test('accept() takes the rest of a pack with an unknown channel, and says what to do about each refusal', () => {
  const { judged, readings } = desk().send([{ bn: 'gen-1:', bt: NOW_S, n: 'colour', vs: 'blue' }, { n: 'taste', v: 1 }, { n: 'tank-pressure', u: 'fathom', v: 6 }, { n: 'running', vb: true }]);
  expect(readings.map(({ channel }) => channel)).toEqual(['running']);
  const items = quarantineItems(judged.packet, judged.generator, judged.refusals);
  expect(items.map(({ reason, channel }) => [reason, channel])).toEqual([['unknown-channel', 'colour'], ['unknown-unit', 'tank-pressure']]);
  expect(items[0]?.says).toContain('2 records');
  expect(items[1]?.says).toContain('kPa');
});

test('accept() makes gauge of absolute pressures with the standard atmosphere at the site', () => {
  const { send } = desk('sites: [{ id: quay-7, elevationM: 1000, generators: [{ id: gen-1, channels: { tank-pressure: { absolute: true } } }] }]');
  // 101.325 kPa × (1 − 0.0065·1000/288.15)^5.25588 = 89.875 kPa.
  expect(send([{ n: 'tank-pressure', u: 'kPa', v: 700 }, { n: 'feed-pressure', u: 'kPa', v: 700 }]).readings.map(({ value }) => value)).toEqual([expect.closeTo(610.125, 1), 700]);
});

test('accept() decides per cent by the first value above 1.5, and keeps to it', () => {
  const { send, acceptor } = desk();
  expect(send([{ n: 'duty', u: '%', v: 0.8 }]).reasons).toEqual(['unit-unclear']);
  const { judged, readings } = send([{ n: 'duty', u: '%', v: 31 }]);
  expect(judged.decided).toEqual(['duty']);
  expect(readings[0]?.value).toBeCloseTo(0.31, 12);
  expect(send([{ n: 'duty', u: '%', v: 0.8 }]).readings[0]?.value).toBeCloseTo(0.008, 12);
  expect(acceptor.percent.get('quay-7/gen-1/duty')).toEqual({ as: 'per-cent' });
});

test('accept() decides nitrogen by its first value, and not by a sensor that warms up', () => {
  expect(desk().send([{ n: 'nitrogen', u: '%', v: 0.981 }]).readings[0]?.value).toBe(0.981);
  expect(desk().send([{ n: 'nitrogen', u: '%', v: 98.1 }]).readings[0]?.value).toBeCloseTo(0.981, 12);
  const warming = desk();
  expect(warming.send([{ n: 'nitrogen', u: '%', v: 0 }]).reasons).toEqual(['unit-unclear']);
  expect(warming.send([{ n: 'nitrogen', u: '%', v: 98.1 }]).readings[0]?.value).toBeCloseTo(0.981, 12);
});

test('accept() calls a series a ratio after 24 h and 20 values at or below 1, but not oxygen that could be per cent', () => {
  const { send } = desk();
  let last = send([{ n: 'duty', u: '%', v: 0.2, bt: NOW_S }]);
  for (let hour = 2; hour <= 40; hour += 2) last = send([{ n: 'duty', u: '%', v: 0.2, bt: NOW_S + hour * 3600 }], undefined, NOW_MS + hour * 3_600_000);
  expect(last.judged.decided).toEqual([]);
  expect(last.readings[0]?.value).toBe(0.2);
  const oxygen = desk();
  for (let hour = 0; hour <= 60; hour += 2) expect(oxygen.send([{ n: 'oxygen', u: '%', v: 0.5, bt: NOW_S + hour * 3600 }], undefined, NOW_MS + hour * 3_600_000).reasons).toEqual(['unit-unclear']);
});

test('accept() follows the registry about per cent, also when it says so later', () => {
  const registry = (percentAs: string) => `sites: [{ id: quay-7, generators: [{ id: gen-1, channels: { duty: { percentAs: ${percentAs} } } }] }]`;
  expect(desk(registry('per-cent')).send([{ n: 'duty', u: '%', v: 0.8 }]).readings[0]?.value).toBeCloseTo(0.008, 12);
  expect(desk(registry('ratio')).send([{ n: 'duty', u: '%', v: 0.8 }]).readings[0]?.value).toBe(0.8);
  const { send, known } = desk();
  expect(send([{ n: 'duty', u: '%', v: 0.8 }]).reasons).toEqual(['unit-unclear']);
  const parsed = parseRegistry(registry('ratio'));
  if ('registry' in parsed) for (const one of generatorsOf(parsed.registry)) known.set(one.key, one);
  const later = send([{ n: 'duty', u: '%', v: 0.7 }]);
  expect(later.judged.decided).toEqual(['duty']);
  expect(later.readings[0]?.value).toBe(0.7);
});

test('accept() keeps what it knows of a generator that the registry makes up anew at each call', () => {
  const acceptor = createAcceptor((key) => unclaimedGenerator(key));
  const into = batchBuilder();
  for (const payload of [[{ n: 'tank-pressure', u: 'bar', v: 6.4 }], [{ n: 'feed-pressure', u: 'psi', v: 80 }]]) {
    const packet = { topic: 'lull/v1/quay-7/gen-1/readings', payload: Buffer.from(JSON.stringify(payload)), dup: false, receivedMs: NOW_MS };
    judgePacket(packet, openPacket(packet), acceptor, { receivedMs: NOW_MS, clockMs: NOW_MS }, into);
  }
  expect([acceptor.sentUnit(GEN, 'tank-pressure'), acceptor.sentUnit(GEN, 'feed-pressure')]).toEqual(['bar', 'psi']);
});

test('sentUnit() tells the unit that a channel was last sent in', () => {
  const { send, acceptor } = desk();
  send([{ n: 'tank-pressure', u: 'bar', v: 6.4 }]);
  expect(acceptor.sentUnit(GEN, 'tank-pressure')).toBe('bar');
  expect(acceptor.sentUnit(GEN, 'nitrogen')).toBeNull();
});
