/**
 * How a generator differs from its healthy self at this moment: all that faults, visits and upsets can do to the plant.
 * Faults add to it, the plant reads it, and neither knows the other.
 */
export type Departures = {
  /** Effective areas of holes, mm², one for each riser's piping. */
  pipeLeakMm2: number[];
  tankLeakMm2: number;
  /** Factor on the healthy holes of the piping, which are not the same every day. */
  wander: number;
  /** What a person draws from the tank now, mm². */
  useMm2: number;
  /** Hole on the feed side, after the elements (a bleed left open). */
  feedBleedMm2: number;
  /** Hole at the bowls, before the elements (a drain that doesn't shut). */
  drainMm2: number;
  drainShut: boolean;
  /** The drain freezes in a room colder than this, °C. */
  drainFreezesC: number;
  /** Multiplies running hours in the loading of the water-catching elements. */
  loadingRate: number;
  /** Share of the compressor's flow that is lost. */
  flowLoss: number;
  /** Factor on the permeance of both gases: below 1 fouled. */
  permeance: number;
  /** Hole in the fibres, mm²: feed to vent. */
  tornMm2: number;
  /** Hole in the shut check valve, mm². */
  checkLeakMm2: number;
  /** Gap of a regulator's seat that doesn't shut, mm². */
  creepMm2: number[];
  /** Supply to a riser shut. */
  valveShut: boolean[];
  /** Supply from another source holds the riser. */
  bypassed: boolean[];
  /** Vent at the end of a riser, mm², as in purging. */
  purgeMm2: number[];
  /** Riser opened to the air (tripped, or drained for works). */
  drained: boolean[];
  startBlocked: boolean;
  /** The motor's protector opens after so many minutes of run; 0 = never. */
  tripsAfterMin: number;
  stopBlocked: boolean;
  /** Compressor locked out by a person. */
  lockedOut: boolean;
  powerOff: boolean;
  /** Set point moved by, kPa. */
  bandShiftKPa: number;
  intakeMissing: boolean;
  elementMissing: boolean;
  /** A sensor that lies: which channel, how, by how much: in the channel's unit, as a share lost, or the share of the air's pressure that is added. Swapped wires name the other channel. */
  sensor: { channel: string; kind: 'freeze' | 'offset' | 'scale' | 'absolute' | 'swap' | 'ageing'; size: number; other?: string } | null;
  /** What it sends goes out under another generator's name. */
  exchanged: boolean;
  /** The gateway's clock is ahead by so much. */
  clockAheadS: number;
  /** The gateway measures nothing and sends nothing. */
  silent: boolean;
};

/** All that doesn't go by riser. */
const GOOD_ORDER = {
  tankLeakMm2: 0, wander: 1, useMm2: 0, feedBleedMm2: 0, drainMm2: 0, drainShut: false, drainFreezesC: -273, loadingRate: 1, flowLoss: 0, permeance: 1, tornMm2: 0, checkLeakMm2: 0,
  startBlocked: false, tripsAfterMin: 0, stopBlocked: false, lockedOut: false, powerOff: false,
  bandShiftKPa: 0, intakeMissing: false, elementMissing: false, sensor: null, exchanged: false, clockAheadS: 0, silent: false,
} as const satisfies Partial<Departures>;

export function noDepartures(risers: number): Departures {
  const none = Array.from({ length: risers }, () => 0);
  const no = none.map(() => false);
  return { pipeLeakMm2: [...none], creepMm2: [...none], valveShut: [...no], bypassed: [...no], purgeMm2: [...none], drained: [...no], ...GOOD_ORDER };
}

/** Back to good order, in place: this is done at every beat of every generator, and an object a beat is a lot of litter. */
export function resetDepartures(dep: Departures): void {
  for (const holes of [dep.pipeLeakMm2, dep.purgeMm2, dep.creepMm2]) holes.fill(0);
  for (const flags of [dep.valveShut, dep.bypassed, dep.drained]) flags.fill(false);
  Object.assign(dep, GOOD_ORDER);
}

/** A number that changes whenever what the feed train does changes: a running plant must then be settled anew. */
export function feedSignature(dep: Departures): number {
  return dep.drainMm2 + 7.3 * dep.feedBleedMm2 + 131 * dep.flowLoss + 1013 * dep.permeance + 17.9 * dep.tornMm2 + (dep.elementMissing ? 5003 : 0) + (dep.intakeMissing ? 7001 : 0);
}
