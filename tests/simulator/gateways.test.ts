// World: one generator whose gateway or wiring is wrong in one way; compared with the same world where it is right.
import { describe, expect, test } from 'vitest';
import type { Channel } from '../../shared/channels.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import { atmosphereKPa } from '../../simulator/plant/gas.ts';
import type { FaultScenario } from '../../simulator/scenario.ts';
import { worldEntries } from '../../simulator/story-times.ts';
import { startWorld, stepWorld } from '../../simulator/world.ts';
import { liveWorld, oneGenerator, START_MS, valuesOf } from './one-generator.ts';

const lies = (variant: string, more: Partial<FaultScenario>): FaultScenario => ({ cause: 'sensor-fault', variant, severity: 'urgent', shape: 'step', fromDay: 1, ...more });
const after = (batch: ReadingBatch, channel: Channel, fromMs: number): number[] => Array.from(batch.atMs.keys()).filter((row) => batch.atMs[row]! >= fromMs && batch.series[batch.seriesIndex[row]!]!.channel === channel).map((row) => batch.value[row]!);
const plain = liveWorld(oneGenerator(), 3).batch;

describe('sensors', () => {
  test('swapped wires exchange two channels from the onset on', () => {
    const { batch } = liveWorld(oneGenerator({ faults: [lies('swapped', { channel: 'tank-pressure', otherChannel: 'system-pressure' })] }), 3);
    const from = START_MS + DAY_MS + HOUR_MS;
    expect(Math.min(...after(batch, 'system-pressure', from))).toBeGreaterThan(500);
    expect(Math.max(...after(batch, 'tank-pressure', from))).toBeLessThan(260);
    expect(Math.max(...valuesOf(batch, 'system-pressure').slice(0, 100))).toBeLessThan(260);
  });
  test('a wrong unit and an absolute gauge move one channel alone, by what they say', () => {
    const from = START_MS + DAY_MS + HOUR_MS;
    const right = after(plain, 'system-pressure', from);
    const psi = after(liveWorld(oneGenerator({ faults: [lies('unit', { channel: 'system-pressure' })] }), 3).batch, 'system-pressure', from);
    expect(psi[0]! / right[0]!).toBeCloseTo(0.145, 2);
    const absolute = after(liveWorld(oneGenerator({ faults: [lies('absolute', { channel: 'system-pressure' })] }), 3).batch, 'system-pressure', from);
    expect(absolute[0]! - right[0]!).toBeCloseTo(atmosphereKPa(100), 0);
  });
  test('an ageing cell reads less oxygen, so nitrogen looks better', () => {
    const channels: Channel[] = ['running', 'nitrogen', 'oxygen'];
    const last = (channel: Channel, faults: FaultScenario[]): number => valuesOf(liveWorld(oneGenerator({ channels, faults }), 3).batch, channel).at(-1)!;
    expect(last('oxygen', [lies('drift', { channel: 'oxygen' })])).toBeLessThan(last('oxygen', []));
    expect(last('nitrogen', [lies('drift', { channel: 'nitrogen' })])).toBeGreaterThan(last('nitrogen', []));
  });
  test('a worn cell loses a share of its answer and follows later: what dips as a run begins is smaller by more than that share', () => {
    const channels: Channel[] = ['running', 'oxygen'];
    const of = (faults: FaultScenario[]): number[] => after(liveWorld(oneGenerator({ channels, faults, reportEveryS: 60 }), 3).batch, 'oxygen', START_MS + 1.5 * DAY_MS);
    const [right, worn] = [of([]), of([lies('ageing', { channel: 'oxygen', severity: 'marked' })])];
    const [middle, least] = [(values: number[]) => values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)]!, (values: number[]) => Math.max(...values)];
    expect(middle(worn) / middle(right)).toBeCloseTo(0.55, 1);
    expect((least(worn) - middle(worn)) / (least(right) - middle(right))).toBeLessThan(0.45);
  });
});

describe('clocks and counters', () => {
  test('a clock that is ahead, and jumps, moves device times and not receipts', () => {
    const { batch } = liveWorld(oneGenerator({ clockAheadS: 45, upsets: [{ kind: 'clock-jump', fromDay: 1, hours: 12, size: -300 }] }), 3);
    const offsets = Array.from(batch.atMs, (atMs, row) => Math.round((batch.receivedMs[row]! - atMs) / 1000));
    expect(batch.atMs.length).toBe(plain.atMs.length);
    const jumped = Array.from(batch.receivedMs, (ms) => ms > START_MS + DAY_MS + HOUR_MS && ms < START_MS + 1.4 * DAY_MS);
    for (const [row, offset] of offsets.entries()) {
      if (batch.receivedMs[row]! < START_MS + 0.9 * DAY_MS) expect(offset).toBeLessThan(-40);
      if (jumped[row]!) expect(offset).toBeGreaterThan(250);
    }
    for (let row = 1; row < batch.receivedMs.length; row += 1) expect(batch.receivedMs[row]!).toBeGreaterThanOrEqual(batch.receivedMs[row - 1]!);
  });
  test('counters that are reset begin again at zero, and go on counting', () => {
    const { batch } = liveWorld(oneGenerator({ upsets: [{ kind: 'counter-reset', fromDay: 1.2, hours: 1 }] }), 3);
    for (const channel of ['run-time', 'starts'] as const) {
      const values = valuesOf(batch, channel);
      const falls = values.filter((value, index) => index > 0 && value < values[index - 1]!);
      expect(falls.length).toBe(1);
      expect(falls[0]!).toBeLessThan(channel === 'starts' ? 10 : 7200);
      expect(values.at(-1)!).toBeGreaterThan(falls[0]!);
    }
  });
});

describe('people', () => {
  test('a compressor locked out for maintenance rests, starts again by itself, and is in the log', () => {
    const { world, batch } = liveWorld(oneGenerator({ channels: ['running', 'tank-pressure'], upsets: [{ kind: 'lock-out', fromDay: 1, hours: 10 }] }), 3);
    const running = Array.from(batch.atMs.keys()).filter((row) => batch.series[batch.seriesIndex[row]!]!.channel === 'running' && batch.value[row] === 1).map((row) => batch.atMs[row]! - START_MS - DAY_MS);
    expect(running.filter((ms) => ms > 60_000 && ms < 10 * HOUR_MS)).toEqual([]);
    expect(running.some((ms) => ms > 10 * HOUR_MS && ms < 12 * HOUR_MS)).toBe(true);
    expect(worldEntries(world).map((entry) => entry.kind)).toEqual(['impairment']);
  });
  test('a vent on a timer takes its gas at its hours, day after day', () => {
    const vented = (vent?: { everyH: number; minutes: number; openingMm: number }): number => liveWorld(oneGenerator({ habit: { wander: 0, ...(vent === undefined ? {} : { vent }) } }), 3).world.generators[0]!.plant.book.pipeLostNL;
    const still = vented();
    const once = vented({ everyH: 12, minutes: 20, openingMm: 0.5 }) - still;
    // 0.5 mm at 2.4 bar loses about 5 NL/min: six times 20 min.
    expect(once).toBeGreaterThan(400);
    expect(once).toBeLessThan(900);
    expect(vented({ everyH: 6, minutes: 20, openingMm: 0.5 }) - still).toBeGreaterThan(1.7 * once);
  });
  test('piping drained for works stands at nothing for so long, is in the log, and is filled again', () => {
    const { world, batch } = liveWorld(oneGenerator({ upsets: [{ kind: 'works', fromDay: 1, hours: 30, size: 9 }] }), 3);
    const values = after(batch, 'system-pressure', START_MS + DAY_MS + HOUR_MS);
    expect(Math.min(...values)).toBeLessThan(2);
    expect(values.at(-1)!).toBeGreaterThan(230);
    expect(worldEntries(world).map((entry) => [entry.kind, (Date.parse(entry.finishedAt!) - Date.parse(entry.startedAt)) / HOUR_MS])).toEqual([['impairment', 9]]);
  });
  test("tenants' use draws from the tank for as long as it lasts", () => {
    const used = liveWorld(oneGenerator({ upsets: [{ kind: 'tenant-use', fromDay: 1.4, hours: 4, size: 0.6 }] }), 3).world.generators[0]!.plant.book.tankLeakNL;
    const still = liveWorld(oneGenerator(), 3).world.generators[0]!.plant.book.tankLeakNL;
    // 0.6 mm at 6 bar loses about 15 NL/min: 3.6 m³ in four hours.
    expect(used - still).toBeGreaterThan(2500);
    expect(used - still).toBeLessThan(5000);
  });
  test('a technician writes down the gauges as found and as left; elements that were only logged show no better', () => {
    const visit = { id: 'v', atDay: 1.4, hours: 1.5, replaced: ['coalescing-element' as const, 'particulate-element' as const], readGauges: true };
    const readings = (more: object): { asFound: Record<string, number>; asLeft: Record<string, number> } => {
      const world = startWorld({ scenario: oneGenerator({ loading: [0.2, 1.2, 1.2, 0.4], visits: [{ ...visit, ...more }] }), seed: 5, startMs: START_MS });
      stepWorld(world, START_MS + 2 * DAY_MS);
      const [entry] = worldEntries(world);
      return { asFound: entry!.readings.asFound!, asLeft: entry!.readings.asLeft! };
    };
    const changed = readings({});
    expect(changed.asFound['elementDropKPa']).toBeGreaterThan(3 * changed.asLeft['elementDropKPa']!);
    expect(changed.asFound['systemPressureKPa']).toBeGreaterThan(200);
    expect(changed.asFound['tankPressureKPa']).toBeGreaterThan(500);
    const logged = readings({ notReally: visit.replaced });
    expect(Math.abs(logged.asFound['elementDropKPa']! - logged.asLeft['elementDropKPa']!)).toBeLessThan(6);
  });
});

describe('names', () => {
  test('exchanged send each generator\'s readings as the other\'s, from the onset to the end', () => {
    const KEYS = ['a/gen-1', 'a/gen-2'] as GeneratorKey[];
    const plant = oneGenerator().generators[0]!;
    const faults = (other: GeneratorKey): FaultScenario[] => [{ cause: 'sensor-fault', variant: 'exchanged', severity: 'plain', shape: 'step', fromDay: 1, toDay: 2, otherGenerator: other }];
    const world = (exchanged: boolean) => ({ ...oneGenerator(), generators: KEYS.map((key, index) => ({ ...plant, key, runHours: 100 * (index + 1), faults: exchanged ? faults(KEYS[1 - index]!) : [] })) });
    const rows = (batch: ReadingBatch, key: GeneratorKey, fromDay: number): string[] => Array.from(batch.atMs.keys()).filter((row) => batch.series[batch.seriesIndex[row]!]!.generator === key && Math.floor((batch.atMs[row]! - START_MS - HOUR_MS) / DAY_MS) === fromDay && (batch.atMs[row]! - START_MS) % DAY_MS > HOUR_MS).map((row) => `${batch.series[batch.seriesIndex[row]!]!.channel} ${batch.atMs[row]} ${batch.value[row]}`);
    const [right, wrong] = [liveWorld(world(false), 3).batch, liveWorld(world(true), 3).batch];
    for (const day of [0, 1, 2]) for (const [index, key] of KEYS.entries()) expect(rows(wrong, key, day)).toEqual(rows(right, KEYS[day === 1 ? 1 - index : index]!, day));
    expect(rows(right, KEYS[0]!, 1)).not.toEqual(rows(right, KEYS[1]!, 1));
  });
});
