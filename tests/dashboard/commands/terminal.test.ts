// Issue: long work shows progress on a terminal and stays silent in a pipe; lists are readable at 100 columns.
import { expect, test } from 'vitest';
import { parseClock, scaledClock } from '../../../dashboard/commands/clock.ts';
import { nearestName } from '../../../dashboard/commands/nearest-name.ts';
import { table, terminalOn } from '../../../dashboard/commands/terminal.ts';

function stream(isTTY: boolean): { write(text: string): void; isTTY: boolean; columns: number; text: string } {
  return {
    isTTY,
    columns: 80,
    text: '',
    write(text) {
      this.text += text;
    },
  };
}

test('terminalOn() draws progress in one line on a terminal and nothing in a pipe', () => {
  const pipe = stream(false);
  terminalOn(stream(false), pipe, () => 0).progress('reading', 0.5);
  expect(pipe.text).toBe('');
  const watched = stream(true);
  const terminal = terminalOn(stream(true), watched, () => 0);
  terminal.progress('reading', 0.5, '12 of 24');
  expect(watched.text).toContain('50 %  12 of 24');
  expect(watched.text).not.toContain('\n');
  terminal.progress('reading', 0.6);
  expect(watched.text).not.toContain('60 %');
});

test('table() keeps every line within the width', () => {
  const text = table(['a', 'b'], [['one', 'x'.repeat(200)], ['three', 'y']], 60);
  expect(text.split('\n').map((line) => line.length <= 60)).toEqual([true, true, true]);
  expect(text.split('\n')[2]).toBe('three  y');
});

test('nearestName() names what was meant, and nothing when nothing is near', () => {
  expect(nearestName('replya', ['replay', 'rank'])).toBe('replay');
  expect(nearestName('xyz', ['replay', 'rank'])).toBeUndefined();
});

test('parseClock() reads START@N; the clock then runs so much faster', () => {
  const clock = parseClock('2026-03-02T00:00:00Z@60');
  expect(clock?.scale).toBe(60);
  expect(Math.abs((clock?.nowMs() ?? 0) - Date.parse('2026-03-02T00:00:00Z'))).toBeLessThan(60_000);
  expect(scaledClock(1000, 60, Date.now() - 1000).nowMs()).toBeGreaterThanOrEqual(61_000);
  for (const wrong of ['60', '@60', 'soon@60', 'now@0', 'now@x', 'now@99999']) expect(parseClock(wrong)).toBeUndefined();
});
