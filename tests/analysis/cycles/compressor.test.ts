// Issue: behind an air receiver the compressor's run is another than production; World: states by hand.
import { describe, expect, test } from 'vitest';
import type { Channel } from '../../../shared/channels.ts';
import { fold, type Row, setupOf, START_MS } from './ideal-tank.ts';

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const setup = setupOf({ layout: 'air-receiver', reportEveryS: 600 });

/** Each hour nitrogen is made for 12 min; the compressor runs for `runMin` from a quarter past. Both states are said again every ten minutes. */
function rows(runMin: (hour: number) => number, channels: readonly Channel[] = ['producing', 'running'], silent: (atMs: number) => boolean = () => false): Row[] {
  const sent: Row[] = [];
  let meterS = 0;
  for (let minute = 0; minute < 26 * 60; minute += 1) {
    const [hour, within] = [Math.floor(minute / 60), minute % 60];
    const atMs = START_MS + minute * MINUTE_MS;
    const runs = within >= 15 && within < 15 + runMin(hour);
    const say = (channel: Channel, value: number): void => void (channels.includes(channel) && !silent(atMs) && sent.push({ channel, atMs, value }));
    if (minute % 10 === 0 || within === 12) say('producing', within < 12 ? 1 : 0);
    if (minute % 10 === 0 || within === 15 || within === 15 + runMin(hour)) say('running', runs ? 1 : 0);
    if (within === 0) say('run-time', meterS);
    if (runs) meterS += 60;
  }
  return sent;
}

describe('compressorRatio', () => {
  test('is the run of the compressor for each second of production', () => {
    const [day] = fold(rows(() => 9), setup, START_MS + 26 * HOUR_MS).days;
    expect(day!.runS).toBeCloseTo(24 * 720, -1);
    expect(day!.compressorRatio!).toBeCloseTo(9 / 12, 3);
  });

  test('is the same by the hour meter, where the compressor says no state', () => {
    const [day] = fold(rows(() => 9, ['producing', 'run-time']), setup, START_MS + 26 * HOUR_MS).days;
    expect(day!.compressorRatio!).toBeCloseTo(9 / 12, 1);
  });

  test('takes the edges of quarters in its stride', () => {
    // The compressor runs from five to the hour to four past it.
    const shifted = rows(() => 9).map((row) => ({ ...row, atMs: row.atMs + 40 * MINUTE_MS }));
    // The run at midnight is told on the next day.
    expect(fold(shifted, setup, START_MS + 26 * HOUR_MS).days[0]!.compressorRatio!).toBeCloseTo((23 * 9) / (24 * 12), 3);
  });

  test('one stop or start in ten that gets lost changes it by little', () => {
    const said = rows(() => 9).filter(({ channel, atMs }) => channel !== 'running' || atMs % HOUR_MS === 0 || [15, 24].includes((atMs / MINUTE_MS) % 60));
    const lost = said.filter(({ channel, atMs }) => !(channel === 'running' && [5, 15].includes(Math.floor((atMs - START_MS) / HOUR_MS)) && (atMs / MINUTE_MS) % 60 === 24));
    expect(said.length - lost.length).toBe(2);
    // Held until the next word it would be 0.93.
    expect(fold(said, setup, START_MS + 26 * HOUR_MS).days[0]!.compressorRatio!).toBeCloseTo(9 / 12, 2);
    expect(fold(lost, setup, START_MS + 26 * HOUR_MS).days[0]!.compressorRatio!).toBeCloseTo(9 / 12, 1);
  });

  test('believes a run that goes on', () => {
    const [day] = fold(rows((hour) => (hour < 12 ? 9 : 45)), setup, START_MS + 26 * HOUR_MS).days;
    expect(day!.compressorRatio!).toBeCloseTo((12 * 9 + 12 * 45) / (24 * 12), 1);
  });

  test('is not known without the compressor, nor where only one of the two was heard for long', () => {
    expect(fold(rows(() => 9, ['producing']), setup, START_MS + 26 * HOUR_MS).days[0]!.compressorRatio).toBeNull();
    const halfDay = rows(() => 9).filter(({ channel, atMs }) => channel === 'producing' || atMs < START_MS + 12 * HOUR_MS);
    expect(fold(halfDay, setup, START_MS + 26 * HOUR_MS).days[0]!.compressorRatio).toBeNull();
  });

  test('is not asked of a compressor that stands straight before the membrane', () => {
    expect(fold(rows(() => 9, ['running']), setupOf({ reportEveryS: 600 }), START_MS + 26 * HOUR_MS).days[0]!.compressorRatio).toBeNull();
  });
});
