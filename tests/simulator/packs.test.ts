// Reference: RFC 8428 as ingest reads it; encode, decode and get the same readings back.
import { expect, test } from 'vitest';
import { channelRule, parseChannel } from '../../shared/channels.ts';
import { readingsOf } from '../../shared/reading-batch.ts';
import { DAY_MS } from '../../shared/time.ts';
import { decodePack } from '../../ingest/decode-pack.ts';
import { demoFleet } from '../../simulator/demo-fleet.ts';
import { messagesOf, toPack } from '../../simulator/packs.ts';
import { startWorld, stepWorld } from '../../simulator/world.ts';

const START_MS = Date.UTC(2026, 6, 18, 8);

test('messagesOf() sends what ingest decodes to the very readings of the batch', () => {
  const world = startWorld({ scenario: demoFleet(START_MS), seed: 2, startMs: START_MS });
  const batch = stepWorld(world, START_MS + DAY_MS / 4);
  const expected = [...readingsOf(batch)];
  let row = 0;
  for (const message of messagesOf(batch)) {
    const records = decodePack(JSON.parse(JSON.stringify(message.payload)), message.atMs);
    if (!Array.isArray(records)) throw new Error(JSON.stringify(records));
    expect(message.topic).toBe(`lull/v1/${message.generator}/readings`);
    for (const record of records) {
      const want = expected[row]!;
      row += 1;
      expect(record.problem).toBeUndefined();
      expect(parseChannel(record.channel)).toBe(want.channel);
      expect(record.atMs).toBe(want.atMs);
      const rule = channelRule(want.channel);
      if (rule.senmlUnit === null) expect(record.value).toBe(want.value === 1);
      else {
        expect(record.unit).toBe(rule.senmlUnit);
        expect(rule.senmlUnit === 'Pa' ? Number(record.value) / 1000 : record.value).toBe(want.value);
      }
    }
  }
  expect(row).toBe(expected.length);
});

test('toPack() takes readings of one generator only, and at least one', () => {
  expect(() => toPack([])).toThrow(RangeError);
});
