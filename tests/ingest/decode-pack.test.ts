// Issue: "The main job, end to end, on real input", item 3: whatever arrives, nothing throws and nothing unsound is kept.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { createAcceptor } from '../../ingest/accept.ts';
import { decodePack } from '../../ingest/decode-pack.ts';
import { judgePacket, openPacket } from '../../ingest/judge-packet.ts';
import { CHANNELS } from '../../shared/channels.ts';
import { batchBuilder, readingsOf } from '../../shared/reading-batch.ts';

const NOW_MS = Date.UTC(2026, 2, 2, 12);
const anything = fc.jsonValue();
const field = fc.constantFrom('bn', 'bt', 'bu', 'bv', 'bver', 'bs', 'n', 'u', 'v', 'vb', 'vs', 'vd', 's', 't', 'ut', 'q', 'odd', 'must_');
const likely = fc.oneof(fc.constantFrom(...Object.keys(CHANNELS), 'gen-1:', 'bar', 'kPa', 'Cel', '/', '%', '%RH', 's', 'count'), fc.double(), fc.integer(), fc.boolean(), anything);
const record = fc.dictionary(field, likely, { maxKeys: 6 });

test('decodePack() never throws, and a record without a problem is whole', () => {
  fc.assert(
    fc.property(fc.oneof(anything, fc.array(record, { maxLength: 8 })), (payload) => {
      const records = decodePack(JSON.parse(JSON.stringify(payload)), NOW_MS);
      if ('rejected' in records) expect(records.says).not.toBe('');
      else for (const one of records) if (one.problem === undefined) expect([Number.isFinite(one.atMs), one.name !== '', one.kind !== 'none']).toEqual([true, true, true]);
    }),
    { numRuns: 2000 },
  );
});

test('judgePacket() keeps only what is possible, and refuses or keeps each record', () => {
  const acceptor = createAcceptor(() => undefined);
  fc.assert(
    fc.property(fc.array(record, { minLength: 1, maxLength: 8 }), (payload) => {
      const packet = { topic: 'lull/v1/quay-7/gen-1/readings', payload: Buffer.from(JSON.stringify(payload)), dup: false, receivedMs: NOW_MS };
      const into = batchBuilder();
      const opened = openPacket(packet);
      const judged = judgePacket(packet, opened, acceptor, { receivedMs: NOW_MS, clockMs: NOW_MS }, into);
      if (opened.kind === 'readings') expect(judged.readings + judged.refusals.length).toBe(opened.records.length);
      for (const { channel, value, atMs } of readingsOf(into.take())) {
        const [least, most] = CHANNELS[channel as 'running'].possible;
        expect(value).toBeGreaterThanOrEqual(least);
        expect(value).toBeLessThanOrEqual(most);
        expect(atMs).toBeLessThanOrEqual(NOW_MS + 600_000);
      }
    }),
    { numRuns: 2000 },
  );
});

test('openPacket() never throws on any topic and bytes', () => {
  fc.assert(fc.property(fc.oneof(fc.string(), fc.constantFrom('lull/v1/quay-7/gen-1/readings', 'lull/v1/quay-7/presence/gw-1')), fc.uint8Array({ maxLength: 200 }), (topic, payload) => openPacket({ topic, payload, dup: false, receivedMs: NOW_MS }).kind.length > 0), { numRuns: 1000 });
});
