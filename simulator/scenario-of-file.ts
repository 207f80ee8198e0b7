import type { Channel } from '../shared/channels.ts';
import { generatorKey, type GeneratorId, type SiteId } from '../shared/ids.ts';
import { ELEMENTS, type Part, type SiteRecord, siteSchema } from '../shared/registry.ts';
import type { FaultScenario, GeneratorScenario, Scenario, VisitScenario } from './scenario.ts';
import type { FaultFile, GeneratorFile, ScenarioFile, SiteFile } from './scenario-file.ts';
import { channelsOf, type GeneratorSketch, plantOf, recordOf } from './site-plant.ts';

/** The world that a scenario file describes, for a start at `startMs`. */
export function scenarioOfFile(file: ScenarioFile, startMs: number): Scenario {
  const generators: GeneratorScenario[] = [];
  const sites: SiteRecord[] = file.sites.map((site) => {
    const records = site.generators.map((made) => {
      generators.push(generatorOf(site, made));
      const record = recordOf(sketchOf(site, made), startMs, made.elementsDays, made.reportEveryS);
      const risers = record.risers.map((riser, index) => (index === 0 && made.vent !== undefined ? { ...riser, purge: 'timed' as const } : riser));
      return { ...record, nitrogenAt: made.nitrogenAt, risers };
    });
    return siteSchema.parse({ id: site.id, ...(site.name === undefined ? {} : { name: site.name }), ...(site.area === undefined ? {} : { area: site.area }), timeZone: site.timeZone, elevationM: site.elevationM, generators: records });
  });
  return { name: file.name, registry: { sites }, generators };
}

function sketchOf(site: SiteFile, made: GeneratorFile): GeneratorSketch {
  const { id, ratedNLPerMin, tankLitres, cutInKPa, cutOutKPa, setKPa, dutyRatio, risers, headroomKPa, piping, stepped, kind, swingS, coldRoom, regulatorNLPerMinKPa, timedDrain } = made;
  return {
    id, climate: site.climate, elevationM: site.elevationM, ratedNLPerMin, ratedNitrogen: made.nitrogen, tankLitres, cutInKPa, cutOutKPa, setKPa, dutyRatio, tankShare: 0.1, risers, headroomKPa, piping, stepped,
    kind, swingS, coldRoom, regulatorNLPerMinKPa, timedDrain, ...(made.receiverLitres === undefined ? {} : { receiverLitres: made.receiverLitres }),
  };
}

function generatorOf(site: SiteFile, made: GeneratorFile): GeneratorScenario {
  const plant = plantOf(sketchOf(site, made));
  const key = generatorKey(site.id as SiteId, made.id as GeneratorId);
  const usedH = made.elementsDays * 24 * made.dutyRatio;
  const channels = typeof made.channels === 'string' ? channelsOf(made.channels, plant.risers.map((riser) => riser.id), plant.receiver !== undefined) : (made.channels as Channel[]);
  const visits = made.visits.map((visit): VisitScenario => {
    const { id, day, hours, by, note, readGauges } = visit;
    const notReally = partsOf(visit.notReally);
    return { id, atDay: day, hours, replaced: partsOf(visit.replaced), ...(by === undefined ? {} : { by }), ...(note === undefined ? {} : { note }), readGauges, ...(notReally.length === 0 ? {} : { notReally }) };
  });
  return {
    key, gateway: `gw-${site.id}-${made.id}`.slice(0, 64), plant, channels, nitrogenAt: made.nitrogenAt, reportEveryS: made.reportEveryS,
    loading: [usedH / 1500, usedH / 3000, usedH / 2500, usedH / 1500], runHours: made.compressorYears * 8766 * made.dutyRatio,
    faults: [...made.faults.map((fault) => faultOf(fault, visits)), ...exchangesOf(site, made)],
    upsets: made.upsets.map(({ kind, from, hours, size, riser }) => ({ kind, fromDay: from, hours, riser: riser - 1, ...(size === undefined ? {} : { size }) })),
    visits: visits.toSorted((a, b) => a.atDay - b.atDay), lossRatio: made.lossRatio, doubleRatio: made.doubleRatio,
    ...(made.readsByClock ? { readsByClock: true as const } : {}),
    ...(made.clockAheadS === 0 ? {} : { clockAheadS: made.clockAheadS }),
    ...(made.counterEnds === undefined ? {} : { counterEnds: { ...(made.counterEnds.runTimeH === undefined ? {} : { runTimeH: made.counterEnds.runTimeH }), ...(made.counterEnds.starts === undefined ? {} : { starts: made.counterEnds.starts }) } }),
    ...(made.wander > 0 || made.use !== undefined || made.vent !== undefined ? { habit: { wander: made.wander, ...(made.use === undefined ? {} : { use: made.use }), ...(made.vent === undefined ? {} : { vent: made.vent }) } } : {}),
  };
}

/** Names that are exchanged are a fault of both. */
function exchangesOf(site: SiteFile, made: GeneratorFile): FaultScenario[] {
  return site.exchanged.flatMap(({ generators: [one, other], from, until }): FaultScenario[] => {
    if (made.id !== one && made.id !== other) return [];
    const otherGenerator = generatorKey(site.id as SiteId, (made.id === one ? other : one) as GeneratorId);
    return [{ cause: 'sensor-fault', variant: 'exchanged', severity: 'plain', shape: 'step', fromDay: from, ...(until === undefined ? {} : { toDay: until }), otherGenerator }];
  });
}

function partsOf(parts: 'elements' | readonly Part[]): readonly Part[] {
  return parts === 'elements' ? ELEMENTS : parts;
}

function faultOf(fault: FaultFile, visits: readonly VisitScenario[]): FaultScenario {
  const left = typeof fault.from === 'string' ? visits.find((visit) => visit.id === fault.from) : undefined;
  const mended = typeof fault.until === 'string' ? visits.find((visit) => visit.id === fault.until) : undefined;
  const fromDay = left === undefined ? Number(fault.from) : left.atDay + left.hours / 24;
  const toDay = mended?.atDay ?? (fault.until === undefined ? undefined : Number(fault.until));
  const badlyMended = mended === undefined || fault.leftAfterVisit === undefined ? undefined : { fromDay: mended.atDay, share: fault.leftAfterVisit };
  return {
    cause: fault.cause, severity: fault.severity, fromDay, riser: fault.riser - 1,
    shape: fault.comesAndGoes ? 'comes-and-goes' : fault.growsDays === undefined ? 'step' : 'ramp',
    ...(fault.growsDays === undefined ? {} : { growDays: fault.growsDays, growth: fault.growth }),
    ...(fault.variant === undefined ? {} : { variant: fault.variant }),
    ...(badlyMended !== undefined ? { badlyMended } : toDay === undefined ? {} : { toDay, ...(mended === undefined ? {} : { endedBy: mended.id }) }),
    ...(fault.channel === undefined ? {} : { channel: fault.channel as Channel }), ...(fault.otherChannel === undefined ? {} : { otherChannel: fault.otherChannel as Channel }),
  };
}
