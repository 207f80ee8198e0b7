import type { Channel } from '../shared/channels.ts';
import { type GeneratorRecord, generatorSchema } from '../shared/registry.ts';
import { DAY_MS, isoFromMs } from '../shared/time.ts';
import { LOW_PRESSURE_SHARE } from './due.ts';
import type { ClimateName } from './plant/climates.ts';
import type { PlantSpec } from './plant/plant-state.ts';
import { atmosphereKPa, holeMm2 } from './plant/gas.ts';
import { leakForNLPerMin, sizeCompressor, sizeFeed, sizeSieve } from './plant/sizing.ts';
import type { Surroundings } from './plant/weather.ts';

/** What is sent: everything, motor current included; the same without; run state with tank and purity; run state with tank; counters with tank; only the duty ratio; the duty ratio with tank and purity. */
export const CHANNEL_SETS = ['motor', 'full', 'middle', 'slim', 'counters', 'duty', 'duty-gauges'] as const;
export type ChannelSet = (typeof CHANNEL_SETS)[number];
/** The piping stands cold, in a heated hall, or out of doors. */
export const PIPING_PLACES = ['cold', 'indoors', 'outdoors'] as const;
export type PipingPlace = (typeof PIPING_PLACES)[number];

/** A generator as a person would describe it; its plant is worked out from this. */
export type GeneratorSketch = {
  readonly id: string;
  readonly climate: ClimateName;
  readonly elevationM: number;
  readonly ratedNLPerMin: number;
  readonly ratedNitrogen: number;
  readonly tankLitres: number;
  readonly cutInKPa: number;
  readonly cutOutKPa: number;
  readonly setKPa: number;
  /** Share of the time that it runs in good order. */
  readonly dutyRatio: number;
  /** Of what is lost in good order, the share at the tank. */
  readonly tankShare: number;
  /** Litres of piping, riser by riser. */
  readonly risers: readonly number[];
  readonly headroomKPa: number;
  readonly piping: PipingPlace;
  /** The regulators open and shut in steps. */
  readonly stepped: boolean;
  readonly kind?: 'membrane' | 'sieve';
  /** Time of one sieve bed's turn; a minute when left out. */
  readonly swingS?: number;
  /** With an air receiver of so many litres. */
  readonly receiverLitres?: number;
  /** The cabinet stands out of doors; in a heated room when left out. */
  readonly coldRoom?: boolean;
  /** Flow of a regulator for each kPa under its set point; small = it droops. */
  readonly regulatorNLPerMinKPa?: number;
  /** Drains open by a timer and lose a little air each time. */
  readonly timedDrain?: boolean;
};

const PIPING: Readonly<Record<PipingPlace, Surroundings['piping']>> = { cold: { heldC: -4, outdoorShare: 0.08, lagH: 18 }, indoors: { heldC: 19, outdoorShare: 0.2, lagH: 8 }, outdoors: { heldC: 12, outdoorShare: 0.85, lagH: 4 } };

/** The plant of an invented generator: sized by its rating, and with holes that make it run its usual share of the time. */
export function plantOf(one: GeneratorSketch): PlantSpec {
  const lossNLPerMin = one.dutyRatio * one.ratedNLPerMin;
  const litres = one.risers.reduce((sum, pipe) => sum + pipe, 0);
  const { elevationM, tankLitres, cutInKPa, cutOutKPa } = one;
  return {
    elevationM, tankLitres, cutInKPa, cutOutKPa, switchJitterKPa: 1.5,
    ...feedOf(one),
    houseLitres: 1.2 + one.ratedNLPerMin / 20, bowlMl: 180,
    healthyTankLeakMm2: leakForNLPerMin(one.tankShare * lossNLPerMin, (cutInKPa + cutOutKPa) / 2, elevationM),
    risers: one.risers.map((pipeLitres, index) => ({ id: `riser-${index + 1}`, pipeLitres, setKPa: one.setKPa, deadBandKPa: one.stepped ? 1.2 : 0, gainNLPerMinKPa: one.regulatorNLPerMinKPa ?? 9, supplyLPerSBar: 0.12, healthyLeakMm2: leakForNLPerMin(((1 - one.tankShare) * lossNLPerMin * pipeLitres) / litres, one.setKPa, elevationM) })),
    surroundings: { climate: one.climate, room: one.coldRoom === true ? { heldC: 8, outdoorShare: 0.9, lagH: 3 } : { heldC: 19, outdoorShare: 0.35, lagH: 6 }, piping: PIPING[one.piping] },
  };
}

/** Opened for 4 s every 15 min through 2 mm. */
const TIMED_DRAIN_MM2 = (holeMm2(2) * 4) / 900;

/**
 * A regulator behind an air receiver holds the feed where it is while the tank fills: only what it stands above cut-out is
 * left to pass the elements, and spent ones take 70 kPa. Common practice, no source.
 */
const OVER_CUT_OUT_KPA = 90;

function feedOf(one: GeneratorSketch): Pick<PlantSpec, 'feed' | 'receiver'> {
  const { ratedNLPerMin, ratedNitrogen, cutInKPa, cutOutKPa, elevationM } = one;
  const headroomKPa = one.receiverLitres === undefined ? one.headroomKPa : Math.max(one.headroomKPa, (cutOutKPa - cutInKPa) / 2 + OVER_CUT_OUT_KPA);
  const rating = { ratedNLPerMin, ratedNitrogen, cutInKPa, cutOutKPa, headroomKPa, elevationM };
  const sized = one.kind === 'sieve' ? sizeSieve(rating, one.swingS ?? 60) : sizeFeed(rating);
  const feed = one.timedDrain === true ? { ...sized, timedDrainMm2: TIMED_DRAIN_MM2 } : sized;
  if (one.receiverLitres === undefined) return { feed };
  const feedSetKPa = Math.round(feed.nominalFeedAbsKPa - atmosphereKPa(elevationM) + 20);
  const receiver = { litres: one.receiverLitres, feedSetKPa, cutInKPa: feedSetKPa + 40, cutOutKPa: feedSetKPa + 160 };
  return { feed: { ...feed, compressor: sizeCompressor(1.35 * feed.nominalFeedNLPerMin, receiver.cutInKPa + 60, elevationM) }, receiver };
}

/** The channels of a set; with several risers each has its own piping pressure. */
export function channelsOf(set: ChannelSet, risers: readonly string[], receiver = false): Channel[] {
  const systems: Channel[] = risers.length > 1 ? risers.map((riser): Channel => `system-pressure.${riser}`) : ['system-pressure'];
  const full: Channel[] = ['running', 'run-time', 'starts', 'power', 'tank-pressure', 'discharge-pressure', 'feed-pressure', ...systems, 'nitrogen', 'room-temperature', 'pipe-temperature', 'humidity'];
  const sets: Record<ChannelSet, Channel[]> = {
    motor: [...full, 'motor-current'],
    full,
    middle: ['running', 'tank-pressure', ...systems, 'nitrogen', 'room-temperature'],
    slim: ['running', 'tank-pressure'],
    counters: ['run-time', 'starts', 'tank-pressure'],
    duty: ['duty'],
    'duty-gauges': ['duty', 'tank-pressure', 'nitrogen'],
  };
  // Where the compressor fills a receiver, run state and production are two things.
  return receiver && sets[set].includes('running') ? ['producing', ...sets[set]] : sets[set];
}

/** What the registry says of it. */
export function recordOf(one: GeneratorSketch, startMs: number, fittedDaysAgo: number, reportEveryS: number): GeneratorRecord {
  const fitted = isoFromMs(startMs - fittedDaysAgo * DAY_MS).slice(0, 10);
  return generatorSchema.parse({
    id: one.id, kind: one.kind ?? 'membrane', layout: one.receiverLitres === undefined ? 'direct' : 'air-receiver', name: one.id.replace('gen-', 'Generator '), tankLitres: one.tankLitres, cutInKPa: one.cutInKPa, cutOutKPa: one.cutOutKPa, ratedNLPerMin: one.ratedNLPerMin,
    compressorKW: Math.round(one.ratedNLPerMin * 0.55) / 10, nitrogenLimit: 0.98, nitrogenAt: 'product', commissionedAt: isoFromMs(startMs - 900 * DAY_MS).slice(0, 10),
    fitted: { 'intake-element': fitted, 'particulate-element': fitted, 'coalescing-element': fitted, 'carbon-element': fitted },
    reportEveryS,
    risers: one.risers.map((pipeLitres, index) => ({ id: `riser-${index + 1}`, setKPa: one.setKPa, lowPressureKPa: Math.round(one.setKPa * LOW_PRESSURE_SHARE), pipeLitres, bypass: 'manual' })),
    valves: [{ name: 'feed valve', normal: 'open' }, { name: 'tank outlet', normal: 'open' }, ...one.risers.map((_, index) => ({ name: `supply to riser ${index + 1}`, normal: 'open' as const })), { name: 'bleed after the elements', normal: 'shut' }, { name: 'sample bleed', normal: 'shut' }, { name: 'tank drain', normal: 'shut' }],
  });
}
