import { generatorKey, type GeneratorId, type SiteId } from '../shared/ids.ts';
import { parseRegistry, type Registry, type SiteRecord, siteSchema } from '../shared/registry.ts';
import { DEMO_SITES, type DemoGenerator, type DemoSite } from './demo-sites.ts';
import { DEMO_STORIES, type DemoStory } from './demo-stories.ts';
import type { PlantSpec } from './plant/plant-state.ts';
import { between, startDice } from './plant/random.ts';
import type { GeneratorScenario, Scenario } from './scenario.ts';
import { channelsOf, type GeneratorSketch, plantOf, recordOf } from './site-plant.ts';

/** Days of history that the demo's story tells before it goes on live. */
export const DEMO_DAYS = 130;
/** Heard, but in no registry: there to be claimed. */
const UNCLAIMED = 'rope-walk/gen-9';
const CUT_IN_KPA = 550;
const CUT_OUT_KPA = 700;
const SET_KPA = 240;

/** The plant of one of the demo's generators. */
export function demoPlant(site: Pick<DemoSite, 'climate' | 'elevationM'>, one: DemoGenerator, stepped: boolean): PlantSpec {
  return plantOf(sketchOf(site, one, stepped));
}

function sketchOf({ climate, elevationM }: Pick<DemoSite, 'climate' | 'elevationM'>, one: DemoGenerator, stepped: boolean): GeneratorSketch {
  const { id, ratedNLPerMin, tankLitres, dutyRatio, risers, headroomKPa, piping } = one;
  return { id, climate, elevationM, ratedNLPerMin, ratedNitrogen: 0.987, tankLitres, cutInKPa: CUT_IN_KPA, cutOutKPa: CUT_OUT_KPA, setKPa: SET_KPA, dutyRatio, tankShare: 0.1, risers, headroomKPa, piping, stepped };
}

/** Where a story has a gateway fall silent, it is that of one generator, not of the site. */
function ownGateway(site: DemoSite, story: DemoStory): boolean {
  const silent = (story.faults ?? []).some((fault) => fault.cause === 'data-gap' || fault.cause === 'no-power') || (story.upsets ?? []).some((upset) => upset.kind === 'gap' || upset.kind === 'late-burst' || upset.kind === 'power-cut');
  return silent && site.generators.length > 1;
}

function generatorScenario(site: DemoSite, one: DemoGenerator, index: number): { readonly scenario: GeneratorScenario; readonly fittedDaysAgo: number } {
  const key = generatorKey(site.id as SiteId, one.id as GeneratorId);
  const dice = startDice(1, `fleet ${key}`);
  const fittedDaysAgo = Math.round(between(dice, 30, 240));
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
      return recordOf(sketchOf(site, one, false), startMs, made.fittedDaysAgo, one.channels === 'duty' ? 3600 : 300);
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
