import { type Channel, channelRule } from '../shared/channels.ts';
import type { Cause } from '../shared/finding.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import { ELEMENTS, type Part } from '../shared/registry.ts';
import { GROWTHS } from './faults/growth.ts';
import { drawnVariants } from './faults/table.ts';
import { between, type Dice } from './plant/random.ts';
import { chance, pick, weighted } from './random-picks.ts';
import { type FaultScenario, type Severity, type UpsetScenario, type VisitScenario } from './scenario.ts';

export type StoryFrame = {
  readonly key: GeneratorKey;
  readonly days: number;
  readonly faultyShare: number;
  readonly causes: readonly Cause[];
  readonly channels: readonly Channel[];
  readonly risers: number;
  /** Its drains can freeze. */
  readonly coldRoom: boolean;
  readonly coldSnaps: readonly { readonly fromDay: number; readonly hours: number; readonly size: number }[];
};
export type Story = { readonly faults: readonly FaultScenario[]; readonly upsets: readonly UpsetScenario[]; readonly visits: readonly VisitScenario[]; /** Its gateway falls silent by itself. */ readonly ownGateway: boolean };

type Habitual = { readonly weight: number; readonly shapes: readonly FaultScenario['shape'][]; /** Part that mends it. */ readonly mends: readonly Part[]; /** It begins as a visit ends. */ readonly byVisit?: boolean; /** Longest that nobody goes, days. */ readonly within: number; /** It can be mended by half. */ readonly partly?: boolean };
/** How often a fault is drawn, how it comes, and what ends it. Weights are even but for what is rare or only of a moment. */
const COURSES: Readonly<Partial<Record<Cause, Habitual>>> = {
  leak: { weight: 4, shapes: ['step', 'ramp', 'ramp', 'comes-and-goes'], mends: ['o-rings'], within: 90, partly: true },
  'bleed-left-open': { weight: 2, shapes: ['step'], mends: [], byVisit: true, within: 40 },
  'supply-bypassed': { weight: 1, shapes: ['step'], mends: [], within: 30 },
  'valve-left-shut': { weight: 2, shapes: ['step'], mends: [], byVisit: true, within: 14 },
  'check-valve-leaking': { weight: 2, shapes: ['step', 'ramp'], mends: ['check-valve'], within: 80, partly: true },
  'element-loading': { weight: 3, shapes: ['step', 'ramp'], mends: ELEMENTS, within: 120 },
  'element-missing': { weight: 1, shapes: ['ramp'], mends: ['coalescing-element'], byVisit: true, within: 100 },
  'drain-stuck-open': { weight: 3, shapes: ['step', 'comes-and-goes'], mends: ['drain'], within: 60, partly: true },
  'drain-stuck-closed': { weight: 2, shapes: ['ramp', 'step'], mends: ['drain', 'coalescing-element'], within: 60 },
  'compressor-side': { weight: 3, shapes: ['ramp', 'ramp', 'step'], mends: ['compressor'], within: 120, partly: true },
  'membrane-decline': { weight: 2, shapes: ['ramp', 'step'], mends: ['membrane'], within: 120 },
  'not-starting': { weight: 1, shapes: ['step', 'comes-and-goes'], mends: ['pressure-switch'], within: 6 },
  'stops-short': { weight: 1, shapes: ['step', 'comes-and-goes'], mends: ['compressor'], within: 20 },
  'runs-without-end': { weight: 1, shapes: ['step'], mends: ['pressure-switch'], within: 10 },
  'sensor-fault': { weight: 3, shapes: ['step', 'ramp'], mends: [], within: 60 },
  'set-point-changed': { weight: 2, shapes: ['step', 'ramp'], mends: ['pressure-switch'], within: 60 },
  'no-power': { weight: 1, shapes: ['step'], mends: [], within: 4 },
  'data-gap': { weight: 1, shapes: ['step'], mends: [], within: 8 },
};
/** Channels that no gauge stands behind. */
const COUNTED: readonly Channel[] = ['running', 'producing', 'power', 'run-time', 'starts', 'duty'];
const SEVERITY_WEIGHTS: Readonly<Record<Severity, number>> = { barely: 2, plain: 3, marked: 3, urgent: 3 };
const CAUSES_DRAWN = Object.keys(COURSES) as Cause[];

/** About half have something wrong, and a few of them two things. What befalls machines in good order befalls all. */
export function randomStory(dice: Dice, frame: StoryFrame): Story {
  const visits: VisitScenario[] = [];
  const faults: FaultScenario[] = [];
  if (chance(dice, frame.faultyShare)) {
    faults.push(randomFault(dice, frame, visits));
    if (chance(dice, 0.12)) faults.push(randomFault(dice, frame, visits));
  }
  if (chance(dice, 0.35)) visits.push(service(frame, visits.length + 1, workday(dice, between(dice, 0.15, 0.95) * frame.days), ELEMENTS, 'yearly change of elements'));
  const upsets = randomUpsets(dice, frame);
  const silent = faults.some((fault) => fault.cause === 'data-gap' || fault.cause === 'no-power') || upsets.some((upset) => upset.kind === 'gap' || upset.kind === 'late-burst' || upset.kind === 'power-cut' || upset.kind === 'clock-jump');
  return { faults, upsets, visits: visits.sort((a, b) => a.atDay - b.atDay), ownGateway: silent };
}

/** A moment of that day between 8 and 15 h UTC. */
export function workday(dice: Dice, day: number): number {
  return Math.floor(day) + between(dice, 8, 15) / 24;
}

const HOURS = 1.5;

export function service(frame: Pick<StoryFrame, 'key'>, number: number, atDay: number, replaced: readonly Part[], note: string, notReally: readonly Part[] = []): VisitScenario {
  // Every second technician writes down what the gauges said.
  return { id: `visit-${frame.key.replace('/', '-')}-${number}`, atDay, hours: HOURS, replaced, by: 'A. Sample', note, readGauges: number % 2 === 1, ...(notReally.length > 0 ? { notReally } : {}) };
}

function randomFault(dice: Dice, frame: StoryFrame, visits: VisitScenario[]): FaultScenario {
  const gauges = frame.channels.filter((channel) => !COUNTED.includes(channel));
  const pressures = gauges.filter((channel) => channelRule(channel).quantity === 'pressure');
  const weights = Object.fromEntries(CAUSES_DRAWN.map((cause) => [cause, !frame.causes.includes(cause) || (cause === 'sensor-fault' && gauges.length === 0) ? 0 : COURSES[cause]!.weight])) as Record<Cause, number>;
  // A generator that sends no gauge can't have one that lies: where nothing else was asked for it gets a leak.
  const cause = Object.values(weights).some((weight) => weight > 0) ? weighted(dice, weights) : 'leak';
  const course = COURSES[cause]!;
  const variant = pick(dice, drawnVariants(cause).filter((name) => name !== 'frozen' || frame.coldRoom).filter((name) => name !== 'swapped' || gauges.length > 1).filter((name) => name !== 'absolute' || pressures.length > 0));
  const shape = cause === 'sensor-fault' ? (variant === 'drift' ? 'ramp' : 'step') : pick(dice, course.shapes);
  // One in twenty is bad before anybody looks; the others leave time to learn what is normal.
  let fromDay = chance(dice, 0.05) ? 0 : between(dice, Math.min(25, 0.3 * frame.days), 0.85 * frame.days);
  let endedBy: string | undefined;
  if (course.byVisit === true) {
    const visit = service(frame, visits.length + 1, workday(dice, fromDay), ELEMENTS, 'change of elements', variant === 'not-changed' ? ELEMENTS : []);
    visits.push(visit);
    fromDay = visit.atDay + HOURS / 24;
  }
  const mended = workday(dice, fromDay + 1 + between(dice, 0.15, 1) * course.within);
  let toDay: number | undefined;
  let badlyMended: FaultScenario['badlyMended'];
  if (mended < frame.days && chance(dice, 0.7)) {
    const visit = service(frame, visits.length + 1, mended, course.mends, `mended: ${cause}`);
    visits.push(visit);
    // One visit in seven makes it better and not good, where that can be.
    if (course.partly === true && chance(dice, 0.14)) badlyMended = { fromDay: mended, share: between(dice, 0.3, 0.6) };
    else {
      toDay = mended;
      endedBy = visit.id;
    }
  }
  return {
    cause, variant, severity: weighted(dice, SEVERITY_WEIGHTS), shape, fromDay, riser: Math.floor(between(dice, 0, frame.risers)),
    ...(shape === 'ramp' ? { growDays: between(dice, 10, 90), growth: pick(dice, GROWTHS) } : {}), ...(toDay === undefined ? {} : { toDay }), ...(endedBy === undefined ? {} : { endedBy }),
    ...(cause === 'sensor-fault' ? lyingChannels(dice, variant, gauges, pressures) : {}), ...(badlyMended === undefined ? {} : { badlyMended }),
  };
}

function lyingChannels(dice: Dice, variant: string, gauges: readonly Channel[], pressures: readonly Channel[]): Pick<FaultScenario, 'channel' | 'otherChannel'> {
  const channel = pick(dice, variant === 'absolute' || (variant === 'swapped' && pressures.length > 1) ? pressures : gauges);
  if (variant !== 'swapped') return { channel };
  // Wires are mixed up among plugs of one kind, where there are two.
  const others = (pressures.length > 1 ? pressures : gauges).filter((one) => one !== channel);
  return { channel, otherChannel: pick(dice, others) };
}

/** How often a healthy upset comes in a year, and how long it lasts, hours. */
const UPSETS_PER_YEAR: readonly { readonly kind: UpsetScenario['kind']; readonly perYear: number; readonly hours: readonly [number, number]; readonly working: boolean; readonly size?: readonly [number, number] }[] = [
  { kind: 'trip-test', perYear: 0.6, hours: [50, 90], working: true, size: [1.5, 5] },
  { kind: 'low-pressure-test', perYear: 4, hours: [0.25, 0.3], working: true },
  { kind: 'purge', perYear: 0.5, hours: [4, 48], working: true },
  { kind: 'power-cut', perYear: 0.8, hours: [0.5, 12], working: false },
  { kind: 'set-point', perYear: 0.3, hours: [24_000, 24_001], working: true, size: [-40, 40] },
  { kind: 'late-burst', perYear: 0.8, hours: [3, 50], working: false },
  { kind: 'tenant-use', perYear: 2, hours: [0.1, 1.5], working: true },
  { kind: 'lock-out', perYear: 0.5, hours: [0.5, 4], working: true },
  { kind: 'regulator-creep', perYear: 0.15, hours: [200, 2000], working: false },
  { kind: 'clock-jump', perYear: 0.3, hours: [1, 60], working: false, size: [-400, 400] },
  { kind: 'counter-reset', perYear: 0.15, hours: [1, 1.1], working: true },
  { kind: 'gap', perYear: 0.8, hours: [2, 40], working: false },
];

function randomUpsets(dice: Dice, frame: StoryFrame): UpsetScenario[] {
  const upsets: UpsetScenario[] = frame.coldSnaps.map((snap) => ({ kind: 'cold-snap', ...snap }));
  for (const { kind, perYear, hours, working, size } of UPSETS_PER_YEAR) {
    for (let left = (perYear * frame.days) / 365; left > 0; left -= 1) {
      if (!chance(dice, Math.min(1, left))) continue;
      const day = between(dice, 1, frame.days);
      upsets.push({ kind, fromDay: working ? workday(dice, day) : day, hours: between(dice, ...hours), riser: Math.floor(between(dice, 0, frame.risers)), ...(size === undefined ? {} : { size: Math.round(between(dice, ...size) * 10) / 10 }) });
    }
  }
  return upsets;
}
