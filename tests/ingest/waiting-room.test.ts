// Issue: "The main job, end to end, on real input", item 3: bounded memory; nothing is dropped that was acknowledged.
import { expect, test } from 'vitest';
import type { Waiting } from '../../ingest/intake.ts';
import { createWaitingRoom } from '../../ingest/waiting-room.ts';
import { SILENT_LOG } from '../../shared/log.ts';

function room(mostPackets: number, mostBytes: number) {
  const abandoned: Waiting[] = [];
  return { abandoned, ...createWaitingRoom({ mostPackets, mostBytes, abandon: (waiting) => abandoned.push(waiting), log: SILENT_LOG }) };
}
const place = (comesAgain: boolean, gone: boolean, bytes = 10) => ({ bytes, comesAgain, isGone: () => gone, waiting: { receivedMs: 0, packet: null, task: null, done() {}, abandoned: false } });

test('createWaitingRoom() lets go only of packets that will come again and whose connection ended', () => {
  const { enter, abandoned } = room(3, 1000);
  const gone = place(true, true);
  for (const one of [place(true, false), gone, place(false, true)]) expect(enter(one)).toBe(one);
  expect(enter(place(true, false))).toBeDefined();
  expect(abandoned).toEqual([gone.waiting]);
  expect(enter(place(true, false))).toBeUndefined();
  expect(enter(place(false, false))).toBeUndefined();
});

test('createWaitingRoom() counts bytes, and gives room again to those who leave', () => {
  const { enter, leave } = room(100, 25);
  const first = place(true, false, 20);
  enter(first);
  enter(place(true, false, 20));
  expect(enter(place(true, false, 1))).toBeUndefined();
  leave(first);
  leave(first);
  expect(enter(place(true, false, 1))).toBeDefined();
});
