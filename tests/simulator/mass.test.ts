// Identity: over a year with every fault and every upset on in turn, what a plant made is what it holds and what left it. In
// doubles: a year is up to 1e7 NL in sums of 1e6 parts, which rounds to under 1e-5 NL.
import { expect, test } from 'vitest';
import type { Channel } from '../../shared/channels.ts';
import { DAY_MS } from '../../shared/time.ts';
import { FAULTS } from '../../simulator/faults/table.ts';
import { UPSETS } from '../../simulator/faults/upsets.ts';
import { type FaultScenario, SEVERITIES, type UpsetKind, type UpsetScenario } from '../../simulator/scenario.ts';
import { type GeneratorSketch, plantOf } from '../../simulator/site-plant.ts';
import { startWorld, stepWorld } from '../../simulator/world.ts';
import { oneGenerator, START_MS } from './one-generator.ts';

const SKETCH: GeneratorSketch = { id: 'gen-1', climate: 'inland', elevationM: 300, ratedNLPerMin: 30, ratedNitrogen: 0.985, tankLitres: 130, cutInKPa: 540, cutOutKPa: 690, setKPa: 220, dutyRatio: 0.1, tankShare: 0.15, risers: [2000, 1200, 700], headroomKPa: 120, piping: 'outdoors', stepped: true, coldRoom: true };
const CHANNELS: readonly Channel[] = ['tank-pressure', 'feed-pressure'];

/** Every variant of every cause for eleven days each, overlapping the next by four. */
const faults = FAULTS.flatMap((kind) => Object.keys(kind.variants).map((variant) => ({ cause: kind.cause, variant }))).map(({ cause, variant }, index): FaultScenario => ({ cause, variant, severity: SEVERITIES[index % 4]!, shape: (['step', 'ramp', 'comes-and-goes'] as const)[index % 3]!, growDays: 8, growth: 'quickening', fromDay: 4 + index * 10, toDay: 18 + index * 10, riser: index % 3, channel: 'tank-pressure', otherChannel: 'feed-pressure' }));
const upsets = (Object.keys(UPSETS) as UpsetKind[]).map((kind, index): UpsetScenario => ({ kind, fromDay: 15.4 + index * 24, hours: kind === 'set-point' ? 400 : 60, riser: index % 3 }));

test.each([['direct', {}], ['sieve', { kind: 'sieve' as const }], ['behind a receiver', { receiverLitres: 180, timedDrain: true }]])('advancePlant() keeps every normal litre for a year with every fault on: %s', (_name, change) => {
  expect(faults.at(-1)!.fromDay).toBeLessThan(350);
  const plantSpec = plantOf({ ...SKETCH, ...change });
  const visits = [{ id: 'v', atDay: 200.4, hours: 3, replaced: ['coalescing-element' as const], readGauges: true }];
  const world = startWorld({ scenario: oneGenerator({ plant: plantSpec, channels: CHANNELS, reportEveryS: 600, faults, upsets, visits, habit: { wander: 0.1, use: { timesPerDay: 1, minutes: 5, openingMm: 0.4 } } }), seed: 9, startMs: START_MS });
  const { plant } = world.generators[0]!;
  const content = (): number => plant.tankNL + plant.risers.reduce((sum, riser) => sum + riser.pipeNL, 0);
  const before = { whole: content(), tank: plant.tankNL, air: plant.receiver?.airNL ?? 0 };
  for (let day = 5; day <= 365; day += 5) {
    stepWorld(world, START_MS + day * DAY_MS);
    const { book, receiver } = plant;
    const left = book.tankLeakNL + book.backNL + book.reliefNL + book.pipeLostNL;
    expect(Math.abs(before.whole + book.productNL + book.otherNL - left - content()), `day ${day}`).toBeLessThan(1e-5);
    expect(Math.abs(before.tank + book.productNL - book.tankLeakNL - book.backNL - book.reliefNL - book.suppliedNL - plant.tankNL), `tank, day ${day}`).toBeLessThan(1e-5);
    if (receiver) expect(Math.abs(before.air + receiver.gainedNL - receiver.drawnNL - receiver.lostNL - receiver.airNL), `receiver, day ${day}`).toBeLessThan(1e-5);
    expect(plant.tankNL).toBeGreaterThan(0);
    for (const riser of plant.risers) expect(riser.pipeNL).toBeGreaterThan(0);
  }
  for (const part of ['productNL', 'tankLeakNL', 'backNL', 'pipeLostNL', 'otherNL', 'intakeNL', 'ventedNL'] as const) expect(plant.book[part], part).toBeGreaterThan(0);
});
