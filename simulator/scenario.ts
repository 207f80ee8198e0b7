import type { Channel } from '../shared/channels.ts';
import type { Cause } from '../shared/finding.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { Part, Registry } from '../shared/registry.ts';
import type { Growth } from './faults/growth.ts';
import type { Driven } from './driven.ts';
import type { Habit } from './habit.ts';
import type { PlantSpec } from './plant/plant-state.ts';
import type { NitrogenPlace } from './plant/sensors.ts';

/** Days are counted from the first midnight (UTC) of the world; parts of a day are allowed. */
export type Severity = 'barely' | 'plain' | 'marked' | 'urgent';
export const SEVERITIES: readonly Severity[] = ['barely', 'plain', 'marked', 'urgent'];

export type FaultScenario = {
  readonly cause: Cause;
  /** One of the fault's own variants; its first when left out. */
  readonly variant?: string;
  readonly severity: Severity;
  readonly shape: 'step' | 'ramp' | 'comes-and-goes';
  readonly fromDay: number;
  /** With `ramp`: days until it has the severity's size; it stays so then. */
  readonly growDays?: number;
  /** With `ramp`: how it grows; evenly when left out. */
  readonly growth?: Growth;
  /** A visit that only made it smaller: from then on this share of its size is left. */
  readonly badlyMended?: { readonly fromDay: number; readonly share: number };
  readonly toDay?: number;
  /** Id of the visit that ended it, or that began it. */
  readonly endedBy?: string;
  readonly riser?: number;
  readonly channel?: Channel;
  /** With wires that are swapped: the other channel. */
  readonly otherChannel?: Channel;
  /** With exchanged names: the generator under whose name this one's readings go out. It has such a fault too. */
  readonly otherGenerator?: GeneratorKey;
};

export type UpsetKind = 'cold-snap' | 'trip-test' | 'low-pressure-test' | 'purge' | 'power-cut' | 'set-point' | 'late-burst' | 'gap' | 'tenant-use' | 'lock-out' | 'regulator-creep' | 'clock-jump' | 'counter-reset' | 'works';
export type UpsetScenario = { readonly kind: UpsetKind; readonly fromDay: number; readonly hours: number; /** K, h, mm, kPa, s, by kind; a usual one when left out. */ readonly size?: number; readonly riser?: number };

export type VisitScenario = { readonly id: string; readonly atDay: number; readonly hours: number; readonly replaced: readonly Part[]; readonly by?: string; readonly note?: string; /** The technician writes down what the gauges said before and after. */ readonly readGauges?: boolean; /** Parts logged but not changed. */ readonly notReally?: readonly Part[] };

export type GeneratorScenario = {
  readonly key: GeneratorKey;
  readonly gateway: string;
  readonly plant: PlantSpec;
  readonly channels: readonly Channel[];
  readonly nitrogenAt: NitrogenPlace;
  /** Period of reports, s; starts and stops are sent at once where `running` is a channel. */
  readonly reportEveryS: number;
  /** The gateway reads everything by the clock, the run state too, and sends nothing on change or movement. */
  readonly readsByClock?: true;
  /** State in which the world finds it: loading of the four elements (1 = their usual life), hours on the meter. */
  readonly loading: readonly [number, number, number, number];
  readonly runHours: number;
  readonly faults: readonly FaultScenario[];
  readonly upsets: readonly UpsetScenario[];
  readonly visits: readonly VisitScenario[];
  /** Share of packs that never arrive, and that arrive twice. */
  readonly lossRatio: number;
  readonly doubleRatio: number;
  /** The gateway's clock is ahead by so many seconds, or behind with a minus. */
  readonly clockAheadS?: number;
  /** Where hour meter and start counter come round: at these they begin again at 0. Endless when left out. */
  readonly counterEnds?: { readonly runTimeH?: number; readonly starts?: number };
  /** What varies from day to day in good order; nothing when left out. */
  readonly habit?: Habit;
  /** Demand and delivery day by day, as they were somewhere; in place of a habit. */
  readonly driven?: Driven;
};

/** A whole invented fleet: what is registered, and what each generator really is and goes through. */
export type Scenario = { readonly name: string; readonly registry: Registry; readonly generators: readonly GeneratorScenario[] };
