// Issue: a gauge that stands still is named before it becomes anything else, and one of the weather hides nothing (design, section 6).
import { describe, expect, test } from 'vitest';
import { frozenNow, frozenSensors, silence, type SpanDay, surelyInRun } from '../../../analysis/causes/data-faults.ts';
import { hiddenSlots } from '../../../analysis/causes/what-hides.ts';
import type { Channel } from '../../../shared/channels.ts';
import { seesOf } from '../../../shared/distinguish.ts';
import { DAY_MS, HOUR_MS } from '../../../shared/time.ts';

const days = (channel: Channel, spans: readonly (readonly [least: number, most: number])[]): SpanDay[] => spans.map(([least, most], index) => ({ startMs: index * DAY_MS, starts: 8, spans: { [channel]: [least, most, 288, 40] } as SpanDay['spans'] }));
const moving = [[15, 21], [14, 20], [15.2, 20.4], [16, 19], [15, 22], [14, 21]] as const;

describe('frozenNow()', () => {
  test('a temperature that has one value for two days stands still since the first of them; for one day it may', () => {
    expect(frozenNow(days('room-temperature', [...moving, [17.9, 17.9], [17.9, 17.9]]), {}, 0.1)).toEqual({ 'room-temperature': 6 * DAY_MS });
    expect(frozenNow(days('room-temperature', [...moving, [17.9, 17.9]]), {}, 0.1)).toEqual({});
    expect(frozenNow(days('room-temperature', [...moving, [17.9, 17.9], [17.9, 18]]), {}, 0.1)).toEqual({});
  });

  test('goes on until it moves, and is silent where days without a move are usual, or air is saturated', () => {
    const since = { 'pipe-temperature': DAY_MS };
    expect(frozenNow(days('pipe-temperature', [[5, 5], [5, 5]]), since, 0.1)).toEqual(since);
    expect(frozenNow(days('pipe-temperature', [[5, 5], [5, 7]]), since, 0.1)).toEqual({});
    expect(frozenNow(days('pipe-temperature', [...moving.slice(2), [18, 18], [15, 20], [18, 18], [18, 18]]), {}, 0.1)).toEqual({});
    expect(frozenNow(days('humidity', [[60, 90], [70, 99], [65, 99], [50, 98], [60, 97], [99, 99], [99, 99]]), {}, 0.1)).toEqual({});
  });

  test('a pressure that moves with the compressor stands still after a day of starts', () => {
    expect(frozenNow(days('tank-pressure', [[550, 700], [548, 701], [550, 699], [612, 612]]), {}, 0.1)).toEqual({ 'tank-pressure': 3 * DAY_MS });
    // Told by change and each hour, it comes in rests alone: in these a tank falls, and the other pressures stand still by right.
    const hourly = (channel: Channel): SpanDay[] => days(channel, [[550, 700], [548, 701], [550, 699], [612, 612]]).map((day, index) => (index < 3 ? day : { ...day, spans: { [channel]: [612, 612, 24, 0] } as SpanDay['spans'] }));
    expect(frozenNow(hourly('tank-pressure'), {}, 0.1)).toEqual({ 'tank-pressure': 3 * DAY_MS });
    expect(frozenNow(hourly('feed-pressure'), {}, 0.1)).toEqual({});
  });
});

test('frozenNow() tells a tank that stands still through its starts where a day has one or two', () => {
  const slow = (spans: readonly (readonly [least: number, most: number])[], starts: readonly number[]): SpanDay[] => days('tank-pressure', spans).map((day, index) => ({ startMs: day.startMs, starts: starts[index]!, spans: { 'tank-pressure': [...spans[index]!, 288, 2 * starts[index]!], running: [0, 1, 40, 4] } }));
  const moved = [[600, 751], [598, 750], [640, 700], [601, 752]] as const;
  expect(frozenNow(slow([...moved, [644, 644], [644, 644]], [2, 1, 0, 2, 2, 1]), {}, 1)).toEqual({ 'tank-pressure': 4 * DAY_MS });
  // One start, or another value on the second day, is no proof; nor where it hardly moved before.
  expect(frozenNow(slow([...moved, [644, 644], [644, 644]], [2, 1, 0, 2, 1, 1]), {}, 1)).toEqual({});
  expect(frozenNow(slow([...moved, [644, 644], [660, 660]], [2, 1, 0, 2, 2, 1]), {}, 1)).toEqual({});
  expect(frozenNow(slow([[600, 751], [640, 642], [640, 642], [640, 642], [644, 644], [644, 644]], [2, 1, 1, 2, 2, 1]), {}, 1)).toEqual({});
});

test('frozenNow() tells a tank that stands still to the last digit though no start is seen any more, where its gauge is fine enough to scatter', () => {
  const still = days('tank-pressure', [[550, 700], [548, 701], [550, 699], [551, 700], [664.4, 664.4]]).map((day, index) => (index < 4 ? day : Object.assign(day, { starts: 0 })));
  expect(frozenNow(still, {}, 0.1)).toEqual({ 'tank-pressure': 4 * DAY_MS });
  expect(frozenNow(still, {}, 10)).toEqual({});
  // One that ran empty or was vented, and one whose compressor's state is told.
  const like = (kPa: number, more: SpanDay['spans'] = {}): SpanDay[] => still.map((day, index) => (index < 4 ? day : { startMs: day.startMs, starts: 0, spans: { 'tank-pressure': [kPa, kPa, 288, 0], ...more } }));
  expect(frozenNow(like(0), {}, 0.1)).toEqual({});
  expect(frozenNow(like(664.4, { running: [0, 0, 24, 0] }), {}, 0.1)).toEqual({});
  expect(frozenNow(like(664.4), {}, 0.1)).toEqual({ 'tank-pressure': 4 * DAY_MS });
  // It moves again, though no more than two starts a day are seen.
  const moves = [...still.slice(0, 4), ...days('tank-pressure', [[550, 700]]).map((day) => Object.assign(day, { starts: 2 }))];
  expect(frozenNow(moves, { 'tank-pressure': DAY_MS }, 0.1)).toEqual({});
  const holds = still.map((day, index) => (index < 4 ? day : Object.assign(day, { spans: { 'tank-pressure': [664.1, 664.6, 288, 0] } })));
  expect(frozenNow(holds, {}, 0.1)).toEqual({});
});

test('frozenNow() takes the current of a motor that never stopped for no frozen gauge', () => {
  const motor = (running: readonly [number, number]): SpanDay[] => days('motor-current', [[0, 7.6], [0, 7.5], [0, 7.6], [7.6, 7.6]]).map((day, index) => ({ ...day, spans: { ...day.spans, running: index < 3 ? [0, 1, 40, 20] : [...running, 40, 20] } }));
  expect(frozenNow(motor([1, 1]), {}, 0.1)).toEqual({});
  expect(frozenNow(motor([0, 1]), {}, 0.1)).toEqual({ 'motor-current': 3 * DAY_MS });
});

test('frozenSensors() tells each, the tank first: of several that froze none hides it', () => {
  const all: SpanDay[] = [{ startMs: 0, starts: 8, spans: { 'tank-pressure': [612, 612, 288, 40], 'discharge-pressure': [712, 712, 288, 40], nitrogen: [0.98, 0.98, 288, 40] } }];
  const told = frozenSensors({ 'discharge-pressure': 0, nitrogen: DAY_MS, 'tank-pressure': 2 * DAY_MS }, all);
  expect(told.map(({ ofTank, lying }) => ofTank ?? lying)).toEqual([true, ['elements'], ['nitrogen']]);
  expect([...hiddenSlots(told, new Set())]).toEqual(expect.arrayContaining(['demand', 'supply', 'running']));
});

test('surelyInRun() takes a value long after a start for none of a run: the stop may have got lost', () => {
  const usual = { longestRunS: 600, longestRestS: 9000, startKPa: 550, stopKPa: 700 };
  expect(surelyInRun({ phase: 1, sinceMs: 0 }, usual, 600_000)).toBe(true);
  expect(surelyInRun({ phase: 1, sinceMs: 0 }, usual, 601_000)).toBe(false);
  expect(surelyInRun({ phase: 1, sinceMs: 0 }, null, HOUR_MS)).toBe(true);
  expect(surelyInRun({ phase: 0, sinceMs: 0 }, usual, 1000)).toBe(false);
});

test('frozenSensors() of the weather hides nothing, of a pressure what hangs on it', () => {
  const still = (channel: Channel) => frozenSensors({ [channel]: 0 }, days(channel, [[17.9, 17.9]]));
  expect(still('room-temperature')[0]!.evidence[0]!.says).toBe('The room temperature stands still at 17.9 °C for two days or more; before, it moved every day.');
  expect(hiddenSlots(still('room-temperature'), new Set()).size).toBe(0);
  expect(hiddenSlots(still('tank-pressure'), new Set())).toContain('demand');
  // What a tank that stands still shows of starts and stops is none of the compressor's; what another gauge shows, the tank knows nothing of.
  expect(hiddenSlots(still('tank-pressure'), new Set())).toContain('running');
  expect(hiddenSlots(still('feed-pressure'), new Set())).not.toContain('running');
});

describe('silence()', () => {
  const after = (hours: number, channels: readonly ('running' | 'power')[]) => silence(hours * HOUR_MS + 1, { lastHeardMs: 1, reportEveryS: 300, gatewayOffline: true, sees: seesOf(new Set(channels)) });

  test('opens after 6 h', () => {
    expect(after(5.9, ['running', 'power'])).toEqual([]);
    expect(after(6, ['running', 'power'])).toMatchObject([{ slot: 'data', cause: 'data-gap', among: null, onset: { likelyMs: 1 } }]);
  });

  test('may be the mains where these are not sent, and says what would tell', () => {
    const [condition] = after(6, ['running']);
    expect(condition).toMatchObject({ cause: 'undetermined', among: ['data-gap', 'no-power'], missingChannels: ['power'], urgent: false });
    expect(condition!.causes.map((one) => one.cause)).toEqual(['data-gap', 'no-power']);
    expect(condition!.evidence.map((one) => one.says)).toEqual(['Nothing has been heard for 6 h; it usually reports every 5 min. Its gateway is offline: power or network at the site.', "Can't tell a gateway or network that is down from mains that are off here: mains power is not sent."]);
  });
});
