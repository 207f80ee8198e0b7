// World: one generator, seed 5, 12 days with a fault from day 4 on, against the same world without it.
// Reference: the table of signatures in the contract (demand, delivery, pressures, nitrogen), on the plant's own book.
import { describe, expect, test } from 'vitest';
import type { FaultScenario } from '../../../simulator/scenario.ts';
import { liveWorld, type Means, meansOf, oneGenerator, valuesOf } from '../one-generator.ts';

const healthy = meansOf(oneGenerator(), 12, 5);
function withFault(fault: Partial<FaultScenario> & Pick<FaultScenario, 'cause'>, days = 12, from = 5): Means {
  return meansOf(oneGenerator({ faults: [{ severity: 'marked', shape: 'step', fromDay: 4, ...fault }] }), days, from);
}
const ratio = (after: number, before: number): number => after / before;

describe('faults leave the signature that the trade knows', () => {
  test('leak in the piping: demand up, delivery and pressures as before', () => {
    const found = withFault({ cause: 'leak' });
    expect(ratio(found.demandNLPerMin, healthy.demandNLPerMin)).toBeGreaterThan(2);
    expect(ratio(found.deliveryNLPerMin, healthy.deliveryNLPerMin)).toBeCloseTo(1, 1);
    expect(Math.abs(found.drop - healthy.drop)).toBeLessThan(1);
    expect(Math.abs(found.nitrogen - healthy.nitrogen)).toBeLessThan(0.004);
  });
  test('leak at the tank: demand up, the piping is not touched', () => {
    const found = withFault({ cause: 'leak', variant: 'tank' });
    expect(ratio(found.demandNLPerMin, healthy.demandNLPerMin)).toBeGreaterThan(2);
    expect(Math.abs(found.system - healthy.system)).toBeLessThan(0.5);
  });
  test('bleed left open on the feed side: delivery, discharge and feed pressure fall', () => {
    const found = withFault({ cause: 'bleed-left-open' });
    expect(ratio(found.deliveryNLPerMin, healthy.deliveryNLPerMin)).toBeLessThan(0.7);
    expect(ratio(found.demandNLPerMin, healthy.demandNLPerMin)).toBeCloseTo(1, 1);
    expect(found.discharge).toBeLessThan(healthy.discharge - 10);
    expect(found.feed).toBeLessThan(healthy.feed - 10);
  });
  test('valve left shut: demand falls, the rest does not end, the piping sags', () => {
    const found = withFault({ cause: 'valve-left-shut', severity: 'urgent' }, 6, 4.5);
    expect(ratio(found.demandNLPerMin, healthy.demandNLPerMin)).toBeLessThan(0.2);
    expect(found.startsPerDay).toBeLessThan(healthy.startsPerDay / 3);
    expect(found.system).toBeLessThan(healthy.system - 30);
  });
  test('supply bypassed: demand falls and the piping holds', () => {
    const found = withFault({ cause: 'supply-bypassed', severity: 'urgent' });
    expect(ratio(found.demandNLPerMin, healthy.demandNLPerMin)).toBeLessThan(0.2);
    expect(Math.abs(found.system - healthy.system)).toBeLessThan(3);
  });
  test('check valve leaking: the tank loses gas at rest and feed pressure stays up after a stop', () => {
    const { world, batch } = liveWorld(oneGenerator({ faults: [{ cause: 'check-valve-leaking', severity: 'marked', shape: 'step', fromDay: 0 }] }), 4);
    const sound = liveWorld(oneGenerator(), 4);
    expect(world.generators[0]!.plant.book.backNL).toBeGreaterThan(500);
    expect(sound.world.generators[0]!.plant.book.backNL).toBe(0);
    const low = (values: number[]): number => values.sort((a, b) => a - b)[Math.floor(values.length * 0.3)]!;
    expect(low(valuesOf(batch, 'feed-pressure'))).toBeGreaterThan(low(valuesOf(sound.batch, 'feed-pressure')) + 20);
  });
  test('element loading: the drop grows, delivery falls little', () => {
    const found = withFault({ cause: 'element-loading', severity: 'urgent' }, 40, 36);
    expect(found.drop).toBeGreaterThan(healthy.drop + 25);
    expect(ratio(found.deliveryNLPerMin, healthy.deliveryNLPerMin)).toBeGreaterThan(0.9);
    expect(ratio(found.deliveryNLPerMin, healthy.deliveryNLPerMin)).toBeLessThan(1);
    expect(found.discharge).toBeGreaterThan(healthy.discharge);
  });
  test('element missing: the drop falls below its clean value', () => {
    expect(withFault({ cause: 'element-missing', severity: 'barely' }).drop).toBeLessThan(healthy.drop - 2);
  });
  test('drain stuck open: delivery and both pressures fall, the drop follows the flow', () => {
    const found = withFault({ cause: 'drain-stuck-open' });
    expect(ratio(found.deliveryNLPerMin, healthy.deliveryNLPerMin)).toBeLessThan(0.8);
    expect(found.discharge).toBeLessThan(healthy.discharge - 5);
    expect(found.feed).toBeLessThan(healthy.feed - 5);
    expect(found.drop).toBeLessThan(healthy.drop);
  });
  test('drain stuck closed: nothing at first, then the drop grows fast', () => {
    const early = withFault({ cause: 'drain-stuck-closed', severity: 'barely' }, 5, 4.2);
    const late = withFault({ cause: 'drain-stuck-closed', severity: 'barely' }, 40, 37);
    expect(Math.abs(early.drop - healthy.drop)).toBeLessThan(1);
    expect(late.drop).toBeGreaterThan(healthy.drop + 10);
  });
  test('compressor side: delivery and both pressures fall, demand does not move', () => {
    for (const variant of ['wear', 'belt']) {
      const found = withFault({ cause: 'compressor-side', variant });
      expect(ratio(found.deliveryNLPerMin, healthy.deliveryNLPerMin)).toBeLessThan(0.9);
      expect(ratio(found.demandNLPerMin, healthy.demandNLPerMin)).toBeCloseTo(1, 1);
      expect(found.discharge).toBeLessThan(healthy.discharge);
      expect(found.drop).toBeLessThan(healthy.drop);
    }
  });
  test('membrane fouled: nitrogen falls, feed pressure rises; torn: nitrogen, feed pressure and delivery fall', () => {
    const fouled = withFault({ cause: 'membrane-decline', variant: 'fouled' });
    expect(fouled.nitrogen).toBeLessThan(healthy.nitrogen - 0.004);
    expect(fouled.feed).toBeGreaterThan(healthy.feed);
    const torn = withFault({ cause: 'membrane-decline', variant: 'torn' });
    expect(torn.nitrogen).toBeLessThan(healthy.nitrogen);
    expect(torn.feed).toBeLessThan(healthy.feed);
    expect(torn.deliveryNLPerMin).toBeLessThan(healthy.deliveryNLPerMin * 0.95);
  });
  test('not starting: the tank falls below cut-in; stops short: short runs; runs without end: a run of days', () => {
    expect(withFault({ cause: 'not-starting' }).tank).toBeLessThan(400);
    const short = withFault({ cause: 'stops-short', severity: 'urgent' });
    expect(short.runMin).toBeLessThan(2.5);
    expect(short.startsPerDay).toBeGreaterThan(healthy.startsPerDay * 1.5);
    expect(withFault({ cause: 'runs-without-end' }).dutyRatio).toBeGreaterThan(0.95);
  });
  test('sensor fault: only its channel moves', () => {
    const one = oneGenerator({ faults: [{ cause: 'sensor-fault', variant: 'offset', severity: 'marked', shape: 'step', fromDay: 0, channel: 'feed-pressure' }] });
    const wrong = liveWorld(one, 2).batch;
    const right = liveWorld(oneGenerator(), 2).batch;
    expect(valuesOf(wrong, 'tank-pressure')).toEqual(valuesOf(right, 'tank-pressure'));
    const off = valuesOf(wrong, 'feed-pressure');
    valuesOf(right, 'feed-pressure').forEach((value, index) => expect(off[index]! - value).toBeCloseTo(50, 1));
    const frozen = liveWorld(oneGenerator({ faults: [{ cause: 'sensor-fault', variant: 'freeze', severity: 'plain', shape: 'step', fromDay: 1, channel: 'feed-pressure' }] }), 2).batch;
    expect(new Set(valuesOf(frozen, 'feed-pressure').slice(-100)).size).toBe(1);
  });
  test('set point changed: the band moves', () => {
    expect(withFault({ cause: 'set-point-changed', severity: 'plain' }).tank).toBeGreaterThan(healthy.tank + 25);
  });
  test('no power and data gap: silence', () => {
    for (const cause of ['no-power', 'data-gap'] as const) {
      const { batch } = liveWorld(oneGenerator({ faults: [{ cause, severity: 'urgent', shape: 'step', fromDay: 1 }] }), 2);
      expect(Math.max(...batch.atMs)).toBeLessThanOrEqual(Date.UTC(2026, 2, 3) + 300_000);
    }
  });
});
