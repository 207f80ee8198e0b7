import type { Cause } from '../shared/finding.ts';
import { generatorKey, type GeneratorId, type SiteId } from '../shared/ids.ts';
import { parseRegistry, type SiteRecord, siteSchema } from '../shared/registry.ts';
import { FAULTS } from './faults/table.ts';
import { type ClimateName, CLIMATES } from './plant/climates.ts';
import { between, type Dice, startDice, uniform } from './plant/random.ts';
import { chance, pick, weighted } from './random-picks.ts';
import { dueServices, MOST_HOURS } from './due-services.ts';
import { randomStory } from './random-stories.ts';
import type { GeneratorScenario, Scenario } from './scenario.ts';
import { channelsOf, type ChannelSet, type GeneratorSketch, PIPING_PLACES, plantOf, recordOf } from './site-plant.ts';

export type RandomWorld = { readonly seed: number; readonly generators: number; readonly days: number; readonly startMs: number; /** Share of generators with something wrong; a half when left out. */ readonly faultyShare?: number; /** Causes to draw from; all when left out. */ readonly causes?: readonly Cause[] };

type Site = { readonly id: string; readonly climate: ClimateName; readonly timeZone: string; readonly elevationM: number; readonly coldSnaps: readonly { readonly fromDay: number; readonly hours: number; readonly size: number }[] };

const ZONES: Readonly<Record<ClimateName, string>> = { foothill: 'Europe/Rome', inland: 'America/New_York', subarctic: 'America/Anchorage', subtropical: 'America/New_York' };
const SET_WEIGHTS: Readonly<Record<ChannelSet, number>> = { motor: 10, full: 32, middle: 22, slim: 18, counters: 10, duty: 4, 'duty-gauges': 4 };

/**
 * An invented fleet as mixed as real ones: places, sizes, tight and leaky sites, channel sets, periods of reports from one
 * to fifteen minutes, poor connections. About half of the generators have something wrong, drawn from all causes,
 * severities and shapes; upsets of good order befall all. The same seed, size, days and start give the same fleet.
 */
export function randomScenario(params: RandomWorld): Scenario {
  const { seed, generators, days, startMs } = params;
  const scenarios: GeneratorScenario[] = [];
  const sites: SiteRecord[] = [];
  for (let number = 1; scenarios.length < generators; number += 1) {
    const dice = startDice(seed, `random site ${number}`);
    const site = randomSite(dice, number, days);
    const size = Math.min(generators - scenarios.length, weighted(dice, { one: 5, two: 4, three: 1 }) === 'one' ? 1 : 2 + Math.floor(uniform(dice) * 1.4));
    const records = Array.from({ length: size }, (_, index) => {
      const made = randomGenerator(params, site, `gen-${index + 1}`);
      scenarios.push(made.scenario);
      return recordOf(made.sketch, startMs, made.fittedDaysAgo, made.scenario.reportEveryS);
    });
    sites.push(siteSchema.parse({ id: site.id, name: `Invented site ${number}`, area: `area ${1 + (number % 7)}`, timeZone: site.timeZone, elevationM: site.elevationM, generators: records }));
  }
  const parsed = parseRegistry(JSON.stringify({ sites }));
  if ('problems' in parsed) throw new RangeError(`Cannot use random registry as it must be valid: current value has ${JSON.stringify(parsed.problems)}`);
  return { name: `random ${seed}`, registry: parsed.registry, generators: scenarios };
}

function randomSite(dice: Dice, number: number, days: number): Site {
  const climate = pick(dice, Object.keys(CLIMATES) as ClimateName[]);
  const snaps = Math.floor(between(dice, 0, 1 + days / 70));
  const coldSnaps = Array.from({ length: snaps }, () => ({ fromDay: between(dice, 5, days), hours: Math.round(between(dice, 30, 120)), size: -Math.round(between(dice, 5, 14)) }));
  return { id: `site-${number}`, climate, timeZone: ZONES[climate], elevationM: Math.round(between(dice, 0, 900)), coldSnaps };
}

const between10 = (dice: Dice, low: number, high: number): number => Math.round(between(dice, low, high) / 10) * 10;
/** As often between 1 and 2 as between 2 and 4. */
const logBetween = (dice: Dice, low: number, high: number): number => low * (high / low) ** uniform(dice);

/** Sizes that go together: a tank that the compressor fills in minutes, piping that belongs to such a generator. */
function randomSketch(dice: Dice, site: Site, id: string): GeneratorSketch {
  const ratedNLPerMin = Math.round(logBetween(dice, 14, 60));
  const bandKPa = between10(dice, 100, 200);
  const cutInKPa = between10(dice, 480, 620);
  const runMin = between(dice, 4, 13);
  const risers = Array.from({ length: Number(weighted(dice, { 1: 6, 2: 3, 3: 1 })) }, () => between10(dice, 600, 3000));
  return {
    id, climate: site.climate, elevationM: site.elevationM, ratedNLPerMin, ratedNitrogen: between(dice, 0.982, 0.99),
    tankLitres: Math.round((runMin * ratedNLPerMin * 101.3) / bandKPa / 5) * 5,
    cutInKPa, cutOutKPa: cutInKPa + bandKPa, setKPa: between10(dice, 140, 280), dutyRatio: logBetween(dice, 0.015, 0.2), tankShare: between(dice, 0.03, 0.3),
    risers, headroomKPa: Math.round(logBetween(dice, 30, 300)), piping: pick(dice, PIPING_PLACES), stepped: chance(dice, 0.4), regulatorNLPerMinKPa: logBetween(dice, 2, 12), coldRoom: chance(dice, 0.12), timedDrain: chance(dice, 0.3),
    ...(chance(dice, 0.15) ? { kind: 'sieve' as const, swingS: Math.round(between(dice, 30, 120)) } : {}), ...(chance(dice, 0.15) ? { receiverLitres: between10(dice, 80, 300) } : {}),
  };
}

function randomGenerator({ seed, days, faultyShare = 0.5, causes = FAULTS.map((kind) => kind.cause) }: RandomWorld, site: Site, id: string): { readonly sketch: GeneratorSketch; readonly scenario: GeneratorScenario; readonly fittedDaysAgo: number } {
  const key = generatorKey(site.id as SiteId, id as GeneratorId);
  const dice = startDice(seed, `random ${key}`);
  const sketch = randomSketch(dice, site, id);
  const set = weighted(dice, SET_WEIGHTS);
  const plant = plantOf(sketch);
  const channels = channelsOf(set, plant.risers.map((riser) => riser.id), plant.receiver !== undefined);
  // Nobody lets a timer run on for months: the world finds no elements older than a service is due.
  const fittedDaysAgo = Math.round(Math.min(between(dice, 20, 330), MOST_HOURS / (24 * sketch.dutyRatio)));
  const usedH = fittedDaysAgo * 24 * sketch.dutyRatio;
  const reportEveryS = set === 'duty' ? pick(dice, [900, 3600]) : pick(dice, [60, 120, 300, 300, 600, 900]);
  const poor = chance(dice, 0.25);
  const story = randomStory(startDice(seed, `story ${key}`), { key, days, faultyShare, causes, channels, risers: plant.risers.length, coldRoom: sketch.coldRoom === true, coldSnaps: site.coldSnaps });
  const due = dueServices(startDice(seed, `services ${key}`), { key, days, fittedDaysAgo, hoursADay: 24 * sketch.dutyRatio, visits: story.visits });
  return {
    sketch, fittedDaysAgo,
    scenario: {
      key, gateway: story.ownGateway ? `gw-${site.id}-${id}` : `gw-${site.id}`, plant, channels, nitrogenAt: 'product', reportEveryS,
      loading: [usedH / 1500, usedH / 3000, usedH / 2500, usedH / 1500], runHours: 900 * 24 * sketch.dutyRatio,
      faults: story.faults, upsets: story.upsets, visits: [...story.visits, ...due].sort((a, b) => a.atDay - b.atDay),
      lossRatio: poor ? between(dice, 0.002, 0.02) : 0.0004, doubleRatio: poor ? between(dice, 0.001, 0.01) : 0,
      ...(chance(dice, 0.2) ? { clockAheadS: Math.round(between(dice, -200, 90)) } : {}),
      habit: { wander: between(dice, 0.03, 0.14), ...(chance(dice, 0.18) ? { use: { timesPerDay: between(dice, 0.5, 3), minutes: between(dice, 2, 10), openingMm: between(dice, 0.3, 0.7) } } : {}) },
    },
  };
}
