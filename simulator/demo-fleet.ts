import type { Channel } from '../shared/channels.ts';
import { generatorKey, type GeneratorId, type SiteId } from '../shared/ids.ts';
import { type GeneratorRecord, generatorSchema, parseRegistry, type Registry, type SiteRecord, siteSchema } from '../shared/registry.ts';
import { DAY_MS, isoFromMs } from '../shared/time.ts';
import { DEMO_SITES, type ChannelSet, type DemoGenerator, type DemoSite } from './demo-sites.ts';
import { DEMO_STORIES, type DemoStory } from './demo-stories.ts';
import type { PlantSpec } from './plant/plant-state.ts';
import { between, startDice } from './plant/random.ts';
import { leakForNLPerMin, sizeFeed } from './plant/sizing.ts';
import type { GeneratorScenario, Scenario } from './scenario.ts';

/** Days of history that the demo's story tells before it goes on live. */
export const DEMO_DAYS = 130;
/** Heard, but in no registry: there to be claimed. */
const UNCLAIMED = 'rope-walk/gen-9';
const CUT_IN_KPA = 550;
const CUT_OUT_KPA = 700;
const SET_KPA = 240;

function channelsOf(set: ChannelSet, risers: readonly string[]): Channel[] {
  const systems: Channel[] = risers.length > 1 ? risers.map((riser): Channel => `system-pressure.${riser}`) : ['system-pressure'];
  const sets: Record<ChannelSet, Channel[]> = {
    full: ['running', 'run-time', 'starts', 'power', 'tank-pressure', 'discharge-pressure', 'feed-pressure', ...systems, 'nitrogen', 'room-temperature', 'pipe-temperature', 'humidity'],
    middle: ['running', 'tank-pressure', ...systems, 'nitrogen', 'room-temperature'],
    slim: ['running', 'tank-pressure'],
    counters: ['run-time', 'starts', 'tank-pressure'],
    duty: ['duty'],
  };
  return sets[set];
}

const PIPING = { cold: { heldC: -4, outdoorShare: 0.08, lagH: 18 }, indoors: { heldC: 19, outdoorShare: 0.2, lagH: 8 }, outdoors: { heldC: 12, outdoorShare: 0.85, lagH: 4 } } as const;

/** The plant of an invented generator: sized by its rating, and with holes that make it run its usual share of the time. */
export function demoPlant(site: Pick<DemoSite, 'climate' | 'elevationM'>, one: DemoGenerator, stepped: boolean): PlantSpec {
  const lossNLPerMin = one.dutyRatio * one.ratedNLPerMin;
  const litres = one.risers.reduce((sum, pipe) => sum + pipe, 0);
  return {
    elevationM: site.elevationM, tankLitres: one.tankLitres, cutInKPa: CUT_IN_KPA, cutOutKPa: CUT_OUT_KPA, switchJitterKPa: 1.5,
    feed: sizeFeed({ ratedNLPerMin: one.ratedNLPerMin, ratedNitrogen: 0.987, cutInKPa: CUT_IN_KPA, cutOutKPa: CUT_OUT_KPA, headroomKPa: one.headroomKPa, elevationM: site.elevationM }),
    houseLitres: 1.2 + one.ratedNLPerMin / 20, bowlMl: 180,
    healthyTankLeakMm2: leakForNLPerMin(0.1 * lossNLPerMin, 625, site.elevationM),
    risers: one.risers.map((pipeLitres, index) => ({ id: `riser-${index + 1}`, pipeLitres, setKPa: SET_KPA, deadBandKPa: stepped ? 1.2 : 0, gainNLPerMinKPa: 9, supplyLPerSBar: 0.12, healthyLeakMm2: leakForNLPerMin((0.9 * lossNLPerMin * pipeLitres) / litres, SET_KPA, site.elevationM) })),
    surroundings: { climate: site.climate, room: { heldC: 19, outdoorShare: 0.35, lagH: 6 }, piping: PIPING[one.piping] },
  };
}

function generatorRecord(one: DemoGenerator, startMs: number, fittedDaysAgo: number): GeneratorRecord {
  const fitted = isoFromMs(startMs - fittedDaysAgo * DAY_MS).slice(0, 10);
  return generatorSchema.parse({
    id: one.id, name: one.id.replace('gen-', 'Generator '), tankLitres: one.tankLitres, cutInKPa: CUT_IN_KPA, cutOutKPa: CUT_OUT_KPA, ratedNLPerMin: one.ratedNLPerMin,
    compressorKW: Math.round(one.ratedNLPerMin * 0.55) / 10, nitrogenLimit: 0.98, nitrogenAt: 'product', commissionedAt: isoFromMs(startMs - 900 * DAY_MS).slice(0, 10),
    fitted: { 'intake-element': fitted, 'particulate-element': fitted, 'coalescing-element': fitted, 'carbon-element': fitted },
    reportEveryS: one.channels === 'duty' ? 3600 : 300,
    risers: one.risers.map((pipeLitres, index) => ({ id: `riser-${index + 1}`, setKPa: SET_KPA, lowPressureKPa: 180, pipeLitres, bypass: 'manual' })),
    valves: [{ name: 'feed valve', normal: 'open' }, { name: 'tank outlet', normal: 'open' }, ...one.risers.map((_, index) => ({ name: `supply to riser ${index + 1}`, normal: 'open' as const })), { name: 'bleed after the elements', normal: 'shut' }, { name: 'sample bleed', normal: 'shut' }, { name: 'tank drain', normal: 'shut' }],
  });
}

/** Where a story has a gateway fall silent, it is that of one generator, not of the site. */
function ownGateway(site: DemoSite, story: DemoStory): boolean {
  const silent = (story.faults ?? []).some((fault) => fault.cause === 'data-gap' || fault.cause === 'no-power') || (story.upsets ?? []).some((upset) => upset.kind === 'gap' || upset.kind === 'late-burst' || upset.kind === 'power-cut');
  return silent && site.generators.length > 1;
}

function generatorScenario(site: DemoSite, one: DemoGenerator, index: number): { readonly scenario: GeneratorScenario; readonly fittedDaysAgo: number } {
  const key = generatorKey(site.id as SiteId, one.id as GeneratorId);
  const dice = startDice(1, `fleet ${key}`);
  const fittedDaysAgo = Math.round(between(dice, 60, 300));
  const usedH = fittedDaysAgo * 24 * one.dutyRatio;
  const plant = demoPlant(site, one, index % 5 < 2);
  const story = DEMO_STORIES[key] ?? {};
  return {
    fittedDaysAgo,
    scenario: {
      key, gateway: ownGateway(site, story) ? `gw-${site.id}-${one.id}` : `gw-${site.id}`, plant, channels: channelsOf(one.channels, plant.risers.map((riser) => riser.id)), nitrogenAt: 'product', reportEveryS: one.channels === 'duty' ? 3600 : 300,
      loading: [usedH / 1500, usedH / 3000, usedH / 2500, usedH / 1500], runHours: 900 * 24 * one.dutyRatio,
      faults: story.faults ?? [], upsets: [...(story.upsets ?? []), { kind: 'cold-snap', fromDay: 108 + (site.climate === 'foothill' ? 0 : 5), hours: 96 }], visits: story.visits ?? [], lossRatio: 0.0005, doubleRatio: index % 8 === 3 ? 0.002 : 0,
    },
  };
}

/**
 * The demo's fleet: 24 invented sites with 40 generators, and what happens to them in 130 days.
 * Made for a world that starts at `startMs`, because dates of fitted elements are told from there.
 */
export function demoFleet(startMs: number): Scenario {
  const generators: GeneratorScenario[] = [];
  const sites: SiteRecord[] = DEMO_SITES.map((site) => {
    const records = site.generators.map((one) => {
      const made = generatorScenario(site, one, generators.length);
      generators.push(made.scenario);
      return generatorRecord(one, startMs, made.fittedDaysAgo);
    });
    return siteSchema.parse({ id: site.id, name: site.name, area: site.area, timeZone: site.timeZone, access: site.access, elevationM: site.elevationM, generators: records });
  });
  const stranger = generatorScenario(DEMO_SITES[2]!, { ...DEMO_SITES[2]!.generators[0]!, id: UNCLAIMED.split('/')[1]!, channels: 'middle', dutyRatio: 0.09 }, generators.length);
  generators.push(stranger.scenario);
  return { name: 'demo', registry: checkedRegistry({ sites }), generators };
}

function checkedRegistry(registry: Registry): Registry {
  const parsed = parseRegistry(JSON.stringify(registry));
  if ('problems' in parsed) throw new RangeError(`Cannot use demo registry as it must be valid: current value has ${JSON.stringify(parsed.problems)}`);
  return parsed.registry;
}
