import { baseChannel, type Channel } from '../shared/channels.ts';
import type { DayRow, Estimate } from '../shared/cycle.ts';
import { splitGeneratorKey } from '../shared/ids.ts';
import type { RegisteredGenerator, SiteRecord } from '../shared/registry.ts';
import { DAY_MS } from '../shared/time.ts';
import type { DrivenSpan } from './driven.ts';
import { type Departures, noDepartures } from './plant/departures.ts';
import { settleFeed } from './plant/feed-train.ts';
import { atmosphereKPa } from './plant/gas.ts';
import type { PlantSpec } from './plant/plant-state.ts';
import { SENSOR_KINDS } from './plant/sensors.ts';
import type { FaultScenario, GeneratorScenario, Scenario } from './scenario.ts';
import { type GeneratorSketch, plantOf } from './site-plant.ts';

/** A generator of real history: what is registered, which channels it sent, and its stored days of the stretch. */
export type Remembered = { readonly registered: RegisteredGenerator; readonly channels: readonly Channel[]; readonly days: readonly DayRow[] };

export type RebuiltParams = { readonly name: string; readonly startMs: number; readonly remembered: readonly Remembered[]; /** Laid over each of them; nothing when left out. */ readonly fault?: FaultScenario };

/** Where nobody wrote it down; common practice, no source. */
const USUAL = { tankLitres: 115, cutInKPa: 550, cutOutKPa: 700, ratedNLPerMin: 28, setKPa: 240, pipeLitres: 2300, roomC: 19, pipeC: 15, nitrogen: 0.987, headroomKPa: 120, reportEveryS: 300 };
/** Nearly all that is drawn goes through the piping, which is what the stored days lead. */
const TANK_SHARE = 0.02;

/**
 * Real history as a world of the simulator: each plant is sized by the registry and by its own medians, and led by its stored
 * days, of which each keeps its mean demand and delivery; a day without either stays silent. What is not rebuilt: anything
 * within a day, weather (rooms are held at their mean), tests, the loading of elements, and with an air receiver the delivery.
 * Sensors scatter as invented ones do.
 */
export function rebuiltScenario({ name, startMs, remembered, fault }: RebuiltParams): Scenario {
  const sites = new Map<string, SiteRecord>();
  const generators = remembered.map((one): GeneratorScenario => {
    const { site, generator } = one.registered;
    const known = sites.get(site.id);
    sites.set(site.id, { ...site, generators: [...(known?.generators ?? []), generator] });
    return generatorOf(one, startMs, fault);
  });
  return { name, registry: { sites: [...sites.values()] }, generators };
}

function generatorOf({ registered, channels, days }: Remembered, startMs: number, fault: FaultScenario | undefined): GeneratorScenario {
  const { key, site, generator } = registered;
  const flows = days.map((day) => flowsOf(day, generator.ratedNLPerMin ?? USUAL.ratedNLPerMin, days));
  const sketch = sketchOf(registered, days, flows);
  const plant = plantFor(registered, sketch, days);
  const reportEveryS = Math.min(3600, Math.max(30, generator.reportEveryS ?? USUAL.reportEveryS));
  const risers = new Set(plant.risers.map((one) => one.id));
  const sent = channels.filter((channel) => SENSOR_KINDS[baseChannel(channel)] !== undefined && (!channel.startsWith('system-pressure.') || risers.has(channel.slice('system-pressure.'.length))));
  return {
    key, gateway: `rebuilt-${splitGeneratorKey(key).generator}`.slice(0, 64), plant, channels: sent, nitrogenAt: generator.nitrogenAt, reportEveryS: Math.round(reportEveryS),
    loading: [0, 0, 0, 0], runHours: 0, faults: fault === undefined ? [] : [faultFor(fault, sent)], upsets: [], visits: [], lossRatio: 0, doubleRatio: 0,
    driven: spansOf(days, flows, plant, sketch, startMs, site.elevationM),
  };
}

/** A sensor that lies is one that it has. */
function faultFor(fault: FaultScenario, channels: readonly Channel[]): FaultScenario {
  if (fault.cause !== 'sensor-fault' || (fault.channel !== undefined && channels.includes(fault.channel))) return fault;
  const channel = channels.find((one) => baseChannel(one) === 'tank-pressure') ?? channels.find((one) => baseChannel(one).endsWith('-pressure')) ?? channels[0];
  return channel === undefined ? fault : { ...fault, channel };
}

type Flows = { readonly demand: number; readonly delivery: number } | undefined;

/** A day's demand and delivery, NL/min. Where the store has only ratios, delivery is the rating times its ratio to the usual day, and demand follows from the duty ratio. */
function flowsOf(day: DayRow, ratedNLPerMin: number, days: readonly DayRow[]): Flows {
  const { demand, delivery, dutyRatio, unit } = day;
  if (unit === 'NL/min' && demand !== null && delivery !== null && delivery.value > 0) return { demand: Math.max(0, demand.value), delivery: delivery.value };
  if (dutyRatio === null) return undefined;
  const usual = medianOf(days.map((one) => (one.unit === unit ? one.delivery : null)));
  const share = delivery === null || usual === undefined || usual <= 0 ? 1 : Math.min(3, Math.max(0.1, delivery.value / usual));
  return { demand: dutyRatio * ratedNLPerMin * share, delivery: ratedNLPerMin * share };
}

function sketchOf({ site, generator }: RegisteredGenerator, days: readonly DayRow[], flows: readonly Flows[]): GeneratorSketch {
  const known = flows.filter((one) => one !== undefined);
  const ratedNLPerMin = bounded(median(known.map((one) => one.delivery)) ?? generator.ratedNLPerMin ?? USUAL.ratedNLPerMin, 2, 400);
  const demand = median(known.map((one) => one.demand)) ?? 0.07 * ratedNLPerMin;
  const cutInKPa = generator.cutInKPa ?? median(days.flatMap((day) => day.cutInKPa ?? [])) ?? USUAL.cutInKPa;
  const cutOutKPa = Math.max(cutInKPa + 20, generator.cutOutKPa ?? median(days.flatMap((day) => day.cutOutKPa ?? [])) ?? USUAL.cutOutKPa);
  const feedKPa = medianOf(days.map((day) => day.feedKPa));
  const nitrogen = medianOf(days.map((day) => day.nitrogen));
  const setKPa = generator.risers.find((one) => one.setKPa !== undefined)?.setKPa ?? medianOf(days.map((day) => day.systemKPa)) ?? USUAL.setKPa;
  return {
    id: generator.id, climate: 'foothill', elevationM: site.elevationM, ratedNLPerMin, ratedNitrogen: bounded(nitrogen ?? USUAL.nitrogen, 0.95, 0.999), tankLitres: generator.tankLitres ?? USUAL.tankLitres, cutInKPa, cutOutKPa,
    setKPa: Math.min(setKPa, cutInKPa - 40), dutyRatio: bounded(demand / ratedNLPerMin, 0.002, 0.9), tankShare: TANK_SHARE, risers: generator.risers.length === 0 ? [USUAL.pipeLitres] : generator.risers.map((one) => one.pipeLitres ?? USUAL.pipeLitres),
    headroomKPa: bounded(feedKPa === undefined ? USUAL.headroomKPa : feedKPa - (cutInKPa + cutOutKPa) / 2, 20, 400), piping: 'indoors', stepped: false, kind: generator.kind, ...(generator.layout === 'air-receiver' ? { receiverLitres: 250 } : {}),
  };
}

/** Rooms are held at their mean: the stored delivery has the weather's part in it already. */
function plantFor({ generator }: RegisteredGenerator, sketch: GeneratorSketch, days: readonly DayRow[]): PlantSpec {
  const plant = plantOf(sketch);
  const roomC = median(days.flatMap((day) => day.roomC ?? [])) ?? USUAL.roomC;
  const pipeC = median(days.flatMap((day) => day.pipeC ?? [])) ?? USUAL.pipeC;
  const risers = generator.risers.length === 0 ? plant.risers : plant.risers.map((riser, index) => ({ ...riser, id: generator.risers[index]!.id, setKPa: Math.min(generator.risers[index]!.setKPa ?? riser.setKPa, sketch.cutInKPa - 40) }));
  return { ...plant, risers, surroundings: { climate: 'foothill', room: { heldC: roomC, outdoorShare: 0, lagH: 1 }, piping: { heldC: pipeC, outdoorShare: 0, lagH: 1 } } };
}

function spansOf(days: readonly DayRow[], flows: readonly Flows[], plant: PlantSpec, sketch: GeneratorSketch, startMs: number, elevationM: number): DrivenSpan[] {
  const midnightMs = Math.floor(startMs / DAY_MS) * DAY_MS;
  const usual = sketch.dutyRatio * sketch.ratedNLPerMin;
  const flowLossFor = flowLossSolver(plant, elevationM);
  let before = { wander: 1, flowLoss: 0 };
  const led = days.map((day, index) => {
    const flow = flows[index];
    if (flow !== undefined) before = { wander: Math.max(0.01, (flow.demand / usual - TANK_SHARE) / (1 - TANK_SHARE)), flowLoss: plant.receiver === undefined ? flowLossFor(flow.delivery) : 0 };
    return { fromDay: (day.startMs - midnightMs) / DAY_MS, toDay: (day.endMs - midnightMs) / DAY_MS, ...before, silent: flow === undefined };
  });
  return withoutHoles(led);
}

/** Days of which nothing is stored are silent too. */
function withoutHoles(led: readonly DrivenSpan[]): DrivenSpan[] {
  return led.flatMap((span, index) => {
    const endDay = led[index - 1]?.toDay ?? 0;
    return span.fromDay <= endDay ? [span] : [{ ...span, fromDay: endDay, toDay: span.fromDay, silent: true }, span];
  });
}

/** Which share of the compressor's flow is missing when the train gives this much at mid-band, NL/min; below 0 it gives more than its rating. */
function flowLossSolver(plant: PlantSpec, elevationM: number): (deliveryNLPerMin: number) => number {
  const atmKPa = atmosphereKPa(elevationM);
  const tankAbsKPa = (plant.cutInKPa + plant.cutOutKPa) / 2 + atmKPa;
  const dep: Departures = noDepartures(plant.risers.length);
  const { heldC } = plant.surroundings.room;
  const given = (flowLoss: number): number => {
    dep.flowLoss = flowLoss;
    return settleFeed(plant.feed, { condition: 1, loading: [0, 0, 0, 0], overflowMl: 0 }, dep, heldC, atmKPa, tankAbsKPa).productNL;
  };
  return (deliveryNLPerMin) => {
    let [low, high] = [-0.5, 0.9];
    for (let round = 0; round < 24; round += 1) {
      const middle = (low + high) / 2;
      if (given(middle) > deliveryNLPerMin) low = middle;
      else high = middle;
    }
    return (low + high) / 2;
  };
}

function bounded(value: number, least: number, most: number): number {
  return Math.min(most, Math.max(least, value));
}

function medianOf(values: readonly Estimate[]): number | undefined {
  return median(values.flatMap((one) => one?.value ?? []));
}

function median(values: readonly number[]): number | undefined {
  const sorted = values.filter(Number.isFinite).toSorted((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)];
}
