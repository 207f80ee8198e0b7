// Issue: "A diagnosis that holds up", item 6: "if it stops now, the low-pressure signal comes in about 7 h". Numbers follow from the ideal gas by hand.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { measuredFall, urgency, type UrgencyInput } from '../../../analysis/verify/urgency.ts';
import type { Sample } from '../../../analysis/verify/tracks.ts';
import { type GeneratorRecord, generatorSchema } from '../../../shared/registry.ts';

const generator = (change: Record<string, unknown> = {}): GeneratorRecord => generatorSchema.parse({ id: 'gen-1', tankLitres: 115, cutInKPa: 550, cutOutKPa: 700, risers: [{ id: 'riser-1', setKPa: 240, lowPressureKPa: 180, pipeLitres: 2300 }], ...change });
const ask = (change: Partial<UrgencyInput> = {}) => urgency({ generator: generator(), demand: { value: 3, unit: 'NL/min' }, systemKPa: 240, measuredFallKPaPerHour: null, ...change });

test('urgency() adds what the tank still gives to the fall of the piping', () => {
  // 3 NL/min out of 2,300 L at 20 °C: 180 NL/h · 101.325/2300 · 293.15/273.15 = 8.5104 kPa/h; 60 kPa of margin: 7.050 h.
  // The tank from 550 to 240 kPa: 310 kPa · 115 L / 101.325 · 273.15/293.15 = 327.8 NL: 1.821 h.
  const now = ask();
  expect(now.pipingFallKPaPerHour).toBeCloseTo(8.5104, 3);
  expect(now.ifShutHours).toBeCloseTo(7.0502, 3);
  expect(now.ifStopsHours).toBeCloseTo(7.0502 + 1.8214, 3);
  expect(now.says).toBe('If it stops now, the low-pressure signal of the piping comes in about 8.9 h: the tank carries it for 1.8 h, then the piping falls by 8.51 kPa/h (reckoned as if all demand were lost in the piping, so rather too fast) from 240 to 180 kPa. If its supply is shut now, in about 7.1 h.');
});

test('urgency() prefers a fall that was measured', () => {
  const now = ask({ measuredFallKPaPerHour: 6, demand: null });
  expect(now).toMatchObject({ fallFrom: 'measured', ifShutHours: 10, ifStopsHours: 10 });
  expect(now.says).toContain('as measured while nothing fed it');
});

test('urgency() leaves the tank out where a finding says that the supply is shut', () => {
  const now = ask({ supplyShut: true, systemKPa: 200, measuredFallKPaPerHour: 10 });
  expect(now).toMatchObject({ ifStopsHours: 2, ifShutHours: 2, says: 'Its supply looks shut: the low-pressure signal of the piping comes in about 2 h, because the piping falls by 10 kPa/h (as measured while nothing fed it) from 200 to 180 kPa.' });
});

test('urgency() takes demand in kPa/min of a tank whose litres are registered', () => {
  const perMin = (3 * 101.325 * 293.15) / (115 * 273.15);
  expect(ask({ demand: { value: perMin, unit: 'kPa/min' } }).ifStopsHours).toBeCloseTo(ask().ifStopsHours!, 9);
});

test('urgency() looks at the riser with the least margin', () => {
  const two = generator({ risers: [{ id: 'riser-1', setKPa: 240, lowPressureKPa: 180, pipeLitres: 1000 }, { id: 'riser-2', setKPa: 240, lowPressureKPa: 210, pipeLitres: 1300 }] });
  expect(ask({ generator: two }).ifShutHours).toBeCloseTo(30 / 8.5104, 3);
});

test('urgency() names what is missing and gives no hours then', () => {
  for (const [change, says] of [
    [{ generator: generator({ risers: [] }) }, /no lowPressureKPa is registered; the piping’s litres aren’t registered/],
    [{ generator: generator({ risers: [{ id: 'riser-1', setKPa: 240, pipeLitres: 2300 }] }) }, /no lowPressureKPa is registered\.$/],
    [{ systemKPa: null, generator: generator({ risers: [{ id: 'riser-1', lowPressureKPa: 180, pipeLitres: 2300 }] }) }, /the piping’s pressure isn’t sent, and no set pressure is registered\.$/],
    [{ demand: null }, /demand isn’t known as an amount of gas/],
  ] as const) {
    const now = ask(change);
    expect([now.ifStopsHours, now.ifShutHours]).toEqual([null, null]);
    expect(now.says).toMatch(says);
  }
});

test('urgency() gives no date beyond a month, and none where the signal is there', () => {
  expect(ask({ demand: { value: 0.02, unit: 'NL/min' } })).toMatchObject({ ifStopsHours: null, says: expect.stringContaining('doesn’t come within a month') });
  expect(ask({ systemKPa: 178 })).toMatchObject({ ifStopsHours: 0, ifShutHours: 0 });
});

test('urgency() never comes later for more demand', () => {
  fc.assert(fc.property(fc.double({ min: 0.05, max: 30, noNaN: true }), fc.double({ min: 1, max: 3, noNaN: true }), (value, factor) => {
    const [less, more] = [ask({ demand: { value, unit: 'NL/min' } }), ask({ demand: { value: value * factor, unit: 'NL/min' } })];
    return less.ifStopsHours === null || more.ifStopsHours! <= less.ifStopsHours;
  }));
});

const every5Min = (hours: number, kPaAt: (hour: number) => number, fromHour = 0): Sample[] => Array.from({ length: hours * 12 }, (_, index): Sample => [(fromHour * 60 + index * 5) * 60_000, kPaAt(index / 12)]);
const flicker = (hour: number): number => 0.2 * Math.sin(hour * 97);

test('measuredFall() takes the newest straight fall, and nothing else', () => {
  const held = every5Min(10, (hour) => 240 + flicker(hour));
  expect(measuredFall(held)).toBeNull();
  const shut = every5Min(3, (hour) => 240 - 7.5 * hour + flicker(hour), 10);
  expect(measuredFall([...held, ...shut])).toBeCloseTo(7.5, 0);
  const faster = every5Min(2, (hour) => 240 - 12 * hour + flicker(hour), 13);
  expect(measuredFall([...held, ...shut, ...faster, ...every5Min(2, () => 240, 15)])).toBeCloseTo(12, 0);
  // Let down by a test within ten minutes, and bent: no leak's rate.
  expect(measuredFall([...held, ...every5Min(2, (hour) => 240 * Math.exp(-4 * hour), 10)])).toBeNull();
  // A regulator's steps of 1.2 kPa.
  expect(measuredFall(every5Min(12, (hour) => 240 - 1.2 * ((hour * 2) % 1)))).toBeNull();
});
