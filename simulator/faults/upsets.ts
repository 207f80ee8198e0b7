import { atmosphereKPa, holeMm2, orificeNLPerMin } from '../plant/gas.ts';
import type { BaseChannel } from '../../shared/channels.ts';
import type { Cause } from '../../shared/finding.ts';
import type { Departures } from '../plant/departures.ts';
import type { PlantSpec } from '../plant/plant-state.ts';
import type { UpsetKind, UpsetScenario } from '../scenario.ts';

/** Whether a generator sends one of these. */
type Sends = (...channels: BaseChannel[]) => boolean;

/**
 * What happens to a generator in good order. `hours` is its whole length; `maySay` are findings that are neither right nor
 * wrong meanwhile: what an honest observer could take it for who has only what is sent, and nothing that a logged entry or a
 * channel would have told. `newsHours`: after so long it is no news.
 */
export type Upset = { readonly usualSize: number; readonly says: string; readonly maySay: (sends: Sends) => readonly Cause[]; readonly newsHours?: number; readonly logged: boolean; readonly apply: (dep: Departures, size: number, sinceH: number, upset: UpsetScenario) => void };

export const UPSETS: Readonly<Record<UpsetKind, Upset>> = {
  'cold-snap': {
    usualSize: -9, says: 'the outdoor air falls by so many K; piping that cools draws nitrogen', maySay: (sends) => (sends('pipe-temperature', 'outdoor-temperature') ? [] : ['leak']), logged: false,
    apply: () => undefined,
  },
  'trip-test': {
    usualSize: 2, says: 'piping opened for so many hours, then one long run to fill it, then three days of purging through a vent', maySay: () => ['leak', 'bleed-left-open'], logged: true,
    apply: (dep, size, sinceH, upset) => {
      const riser = upset.riser ?? 0;
      if (sinceH < size) dep.drained[riser] = true;
      else if (sinceH > size + 6) dep.purgeMm2[riser] = (dep.purgeMm2[riser] ?? 0) + holeMm2(0.42);
    },
  },
  'low-pressure-test': {
    usualSize: 1.2, says: 'piping bled through a valve of so many mm for a quarter of an hour in working hours', maySay: () => [], logged: true,
    apply: (dep, size, sinceH, upset) => {
      const riser = upset.riser ?? 0;
      if (sinceH < 0.25) dep.purgeMm2[riser] = (dep.purgeMm2[riser] ?? 0) + holeMm2(size);
    },
  },
  purge: {
    usualSize: 0.42, says: 'a vent of so many mm open at the end of the piping', maySay: () => ['leak', 'bleed-left-open'], logged: true,
    apply: (dep, size, _sinceH, upset) => {
      const riser = upset.riser ?? 0;
      dep.purgeMm2[riser] = (dep.purgeMm2[riser] ?? 0) + holeMm2(size);
    },
  },
  'power-cut': { usualSize: 1, says: 'no mains', maySay: (sends) => (sends('power') ? ['no-power'] : ['no-power', 'data-gap']), logged: false, apply: (dep) => void (dep.powerOff = true) },
  'set-point': { usualSize: 30, says: 'a person moves the band by so many kPa, and says so', maySay: () => ['set-point-changed'], newsHours: 24, logged: true, apply: (dep, size) => void (dep.bandShiftKPa += size) },
  'late-burst': { usualSize: 1, says: 'the gateway keeps its readings and sends them all at once', maySay: () => ['data-gap'], logged: false, apply: () => undefined },
  'tenant-use': { usualSize: 0.5, says: 'people draw air through an opening of so many mm', maySay: () => [], logged: false, apply: (dep, size) => void (dep.useMm2 += holeMm2(size)) },
  'lock-out': { usualSize: 1, says: 'a person locks the compressor out, works, and lets it go again', maySay: () => ['not-starting'], logged: true, apply: (dep) => void (dep.lockedOut = true) },
  'regulator-creep': {
    usualSize: 0.1, says: 'the seat of a regulator passes through so many mm: the piping stands above its set point', maySay: (sends) => (sends('system-pressure') ? ['set-point-changed', 'sensor-fault', 'leak'] : ['leak']), logged: false,
    apply: (dep, size, _sinceH, upset) => {
      const riser = upset.riser ?? 0;
      dep.creepMm2[riser] = (dep.creepMm2[riser] ?? 0) + holeMm2(size);
    },
  },
  works: {
    usualSize: 8, says: 'piping drained for so many hours of works, then filled again', maySay: () => [], logged: true,
    apply: (dep, size, sinceH, upset) => {
      if (sinceH < size) dep.drained[upset.riser ?? 0] = true;
    },
  },
  'clock-jump': { usualSize: 240, says: "the gateway's clock goes wrong by so many seconds", maySay: () => ['data-gap', 'sensor-fault'], logged: false, apply: (dep, size) => void (dep.clockAheadS += size) },
  'counter-reset': { usualSize: 1, says: 'hour meter and start counter begin again at zero', maySay: (sends) => (sends('run-time', 'starts') ? ['sensor-fault'] : []), logged: false, apply: () => undefined },
  gap: { usualSize: 1, says: 'the gateway is silent and keeps nothing', maySay: () => ['data-gap'], logged: false, apply: (dep) => void (dep.silent = true) },
};

/** Whether a creeping seat passes more than its riser loses: only then does the piping rise and lose more. */
export function creepShows(spec: PlantSpec, upset: UpsetScenario): boolean {
  const riser = spec.risers[upset.riser ?? 0];
  if (riser === undefined) return false;
  const atmKPa = atmosphereKPa(spec.elevationM);
  const flow = (mm2: number, gaugeKPa: number, toKPa: number): number => orificeNLPerMin(mm2, gaugeKPa + atmKPa, toKPa + atmKPa, 293.15);
  return flow(holeMm2(upset.size ?? UPSETS['regulator-creep'].usualSize), spec.cutOutKPa, riser.setKPa) > flow(riser.healthyLeakMm2, riser.setKPa, 0);
}

/** What cold snaps take from the outdoor air at an hour, K: it cools in 8 h and warms in the last 12 h. Weather needs hours ahead, so it asks here and not the departures of the moment. */
export function coldSnapC(upsets: readonly UpsetScenario[], day: number): number {
  let sum = 0;
  for (const upset of upsets) {
    if (upset.kind !== 'cold-snap') continue;
    const sinceH = (day - upset.fromDay) * 24;
    if (sinceH >= 0 && sinceH < upset.hours) sum += (upset.size ?? UPSETS['cold-snap'].usualSize) * Math.min(1, sinceH / 8, (upset.hours - sinceH) / 12);
  }
  return sum;
}
