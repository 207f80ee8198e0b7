// Issue: what the channels sent can't tell apart is said, and each thing once (design, sections 5 and 6).
import { expect, test } from 'vitest';
import type { BaseChannel } from '../../shared/channels.ts';
import { cannotTell, groupOf, seesOf } from '../../shared/distinguish.ts';

const says = (...channels: BaseChannel[]): string => cannotTell(seesOf(new Set(channels))).join('\n');

test('cannotTell() says the widest of what looks alike, and nothing that it holds already', () => {
  expect(says('running', 'tank-pressure')).toMatch(/elements, drain, compressor and membrane apart/);
  expect(says('running', 'tank-pressure')).not.toMatch(/elements, drain and compressor apart|full bowl/);
  const withNitrogen = says('running', 'tank-pressure', 'nitrogen');
  expect(withNitrogen).toMatch(/elements, drain and compressor apart/);
  expect(withNitrogen).toMatch(/membrane that declines from one that a full bowl's water reaches/);
  expect(says('running', 'tank-pressure', 'discharge-pressure', 'feed-pressure', 'nitrogen', 'system-pressure', 'power')).toBe('');
});

test('groupOf() of silence is a gap or the mains, unless these are sent', () => {
  expect(groupOf('data-gap', seesOf(new Set(['running'])))).toMatchObject({ among: ['data-gap', 'no-power'], missingChannels: ['power'] });
  expect(groupOf('data-gap', seesOf(new Set(['running', 'power'])))).toBeUndefined();
});
