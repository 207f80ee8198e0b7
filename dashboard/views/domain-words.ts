import type { EntryKind } from '../../shared/entry.ts';
import type { Cause, ClosingReason, DataState, FindingState, LimitName } from '../../shared/finding.ts';
import type { QuarantineReason } from '../../shared/quarantine.ts';
import type { Part } from '../../shared/registry.ts';

/** Causes as the trade says them. */
export const CAUSE_WORDS: Readonly<Record<Cause, string>> = {
  leak: 'Leak',
  'bleed-left-open': 'Bleed left open',
  'supply-bypassed': 'Supply bypassed',
  'valve-left-shut': 'Valve left shut',
  'check-valve-leaking': 'Check valve leaking back',
  'element-loading': 'Element loading up',
  'element-missing': 'Element missing or not changed',
  'drain-stuck-open': 'Drain stuck open',
  'drain-stuck-closed': 'Drain stuck closed',
  'compressor-side': 'Compressor side',
  'membrane-decline': 'Membrane declining',
  'not-starting': 'Not starting',
  'stops-short': 'Stops short of its band',
  'runs-without-end': 'Runs without end',
  'sensor-fault': 'Sensor fault',
  'set-point-changed': 'Set point changed',
  'no-power': 'No power',
  'data-gap': 'Gap in the data',
  undetermined: "Can't tell which",
};

/**
 * Which side a cause shows on decides the shape and shade of its mark; words carry the meaning. A bleed left open shows on the
 * delivery side: what it lets go never reaches the tank.
 */
export type CauseShape = 'demand' | 'delivery' | 'running' | 'data';
const SHAPES: Readonly<Record<CauseShape, readonly Cause[]>> = {
  demand: ['leak', 'supply-bypassed', 'valve-left-shut', 'check-valve-leaking'],
  delivery: ['bleed-left-open', 'element-loading', 'element-missing', 'drain-stuck-open', 'drain-stuck-closed', 'compressor-side', 'membrane-decline'],
  running: ['not-starting', 'stops-short', 'runs-without-end'],
  data: ['sensor-fault', 'set-point-changed', 'no-power', 'data-gap', 'undetermined'],
};
export function shapeOf(cause: Cause): CauseShape {
  return (Object.keys(SHAPES) as CauseShape[]).find((shape) => SHAPES[shape].includes(cause)) ?? 'data';
}

export const DATA_STATE_WORDS: Readonly<Record<DataState, string>> = {
  reporting: 'reporting',
  learning: 'learning what is normal',
  'partly-reporting': 'partly reporting',
  'not-reporting': 'not reporting',
  'no-power': 'no power',
  'under-test': 'under test',
  'out-of-service': 'out of service',
};

export const FINDING_STATE_WORDS: Readonly<Record<FindingState, string>> = { new: 'new', acknowledged: 'acknowledged', planned: 'planned', verifying: 'work done, being checked', closed: 'closed' };
export const CLOSING_WORDS: Readonly<Record<ClosingReason, string>> = { improved: 'improved', 'not-confirmed': 'not confirmed', false: 'false finding', superseded: 'superseded by another finding' };

export const LIMIT_WORDS: Readonly<Record<LimitName, string>> = { dutyRatio: 'duty ratio', elementDropKPa: 'pressure drop over the elements', nitrogen: 'nitrogen', deliveryShare: 'delivery' };

export const PART_WORDS: Readonly<Record<Part, string>> = {
  'particulate-element': 'particulate element',
  'coalescing-element': 'coalescing element',
  'carbon-element': 'carbon element',
  'intake-element': 'intake element',
  drain: 'drain',
  'o-rings': 'o-rings',
  membrane: 'membrane',
  'oxygen-sensor': 'oxygen sensor',
  'check-valve': 'check valve',
  regulator: 'regulator',
  'pressure-switch': 'pressure switch',
  compressor: 'compressor',
};

export const ENTRY_KIND_WORDS: Readonly<Record<EntryKind, string>> = { service: 'service', 'trip-test': 'trip test', 'low-pressure-test': 'low-pressure test', 'hold-test': 'hold test', purge: 'purge', 'set-point': 'set point changed', impairment: 'impairment' };

export const REFUSAL_WORDS: Readonly<Record<QuarantineReason, string>> = {
  malformed: "can't be read",
  'too-large': 'too large',
  'unknown-topic': 'unknown topic',
  'unknown-channel': 'unknown channel',
  'unknown-unit': 'unknown unit',
  'unit-unclear': 'unit unclear',
  'out-of-range': 'outside what is possible',
  'clock-ahead': "gateway's clock ahead",
  'too-old': 'too old',
  'conflicting-value': 'second value for one time',
  'store-refused': 'store refused it',
};

/** How sure: a word and its number always stand together. */
export function sureWords(probability: number): string {
  const percent = Math.round(probability * 100);
  const word = probability >= 0.9 ? 'very likely' : probability >= 0.7 ? 'likely' : probability >= 0.5 ? 'more likely than not' : 'possible';
  return `${word}, ${percent === 100 ? '> 99' : percent}\u00a0%`;
}

/** A cause among those that were weighed: what is left over there is none of them. */
export function weighedWords(cause: Cause): string {
  return cause === 'undetermined' ? 'Something else' : CAUSE_WORDS[cause];
}

/** Causes for a list where room is short: the first three and how many more. */
export function amongShort(causes: readonly Cause[]): string {
  if (causes.length <= 4) return `One of: ${amongWords(causes)}`;
  const first = causes.slice(0, 3).map((cause) => CAUSE_WORDS[cause].toLowerCase());
  return `One of ${causes.length}: ${first.join(', ')} or ${causes.length - 3} others`;
}

/** `leak, drain stuck open or compressor side`. */
export function amongWords(causes: readonly Cause[]): string {
  const words = causes.map((cause) => CAUSE_WORDS[cause].toLowerCase());
  return words.length < 2 ? (words[0] ?? '') : `${words.slice(0, -1).join(', ')} or ${words.at(-1)}`;
}
