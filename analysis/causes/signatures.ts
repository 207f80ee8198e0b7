import type { Cause } from '../../shared/finding.ts';

/*
 * How each cause moves each series: the table of the design, section 6, as chances of [up, flat, down] against the
 * generator's own baseline. The chances are judgements from the physics there ("little" is a coin's toss between
 * flat and down), not fitted values; a chance of 0 is never said. Nitrogen: a membrane that is given less air passes less, and
 * gas that stays longer in its fibres is purer; less pure at the same or more flow is the membrane's own.
 */

type Chances = readonly [up: number, flat: number, down: number];

const STILL: Chances = [0.04, 0.92, 0.04];
/** At rest the feed side is let down to the air, and stays so unless gas runs back into it. */
const EMPTY: Chances = [0.01, 0.98, 0.01];

export type SignatureSeries = 'demand' | 'delivery' | 'elementDrop' | 'discharge' | 'feed' | 'feedRest' | 'feedFall' | 'compressorRun' | 'nitrogen' | 'system';
export type Signature = {
  /** How often it happens on a generator in a year; common practice, no source. Only ratios matter. */
  readonly perYear: number;
  readonly moves: Partial<Readonly<Record<SignatureSeries, Chances>>>;
  /** Chance that it comes as a step and not slowly. */
  readonly step: number;
  /** Chance that its onset lies within a day and a half after a visit. Chance agreement is about 0.02. */
  readonly afterVisit: number;
};

export const SIGNATURES = {
  leak: { perYear: 0.3, step: 0.5, afterVisit: 0.06, moves: { demand: [0.96, 0.03, 0.01], delivery: STILL, feedRest: EMPTY, system: [0.02, 0.8, 0.18] } },
  'bleed-left-open': { perYear: 0.06, step: 0.97, afterVisit: 0.95, moves: { demand: [0.5, 0.45, 0.05], delivery: [0.02, 0.48, 0.5], elementDrop: [0.03, 0.75, 0.22], discharge: [0.02, 0.4, 0.58], feed: [0.02, 0.38, 0.6], feedRest: EMPTY, feedFall: [0.01, 0.5, 0.49], compressorRun: [0.6, 0.38, 0.02], nitrogen: [0.38, 0.57, 0.05] } },
  'supply-bypassed': { perYear: 0.02, step: 0.95, afterVisit: 0.5, moves: { demand: [0.01, 0.04, 0.95], system: [0.15, 0.8, 0.05] } },
  'valve-left-shut': { perYear: 0.03, step: 0.98, afterVisit: 0.92, moves: { demand: [0.01, 0.07, 0.92], system: [0.01, 0.14, 0.85] } },
  'check-valve-leaking': { perYear: 0.05, step: 0.5, afterVisit: 0.06, moves: { demand: [0.93, 0.06, 0.01], delivery: [0.85, 0.14, 0.01], feedRest: [0.6, 0.39, 0.01], feedFall: [0.8, 0.19, 0.01] } },
  'element-loading': { perYear: 0.35, step: 0.08, afterVisit: 0.02, moves: { delivery: [0.01, 0.45, 0.54], elementDrop: [0.94, 0.05, 0.01], discharge: [0.68, 0.31, 0.01], feed: [0.01, 0.55, 0.44], nitrogen: [0.25, 0.72, 0.03] } },
  'element-missing': { perYear: 0.02, step: 0.9, afterVisit: 0.9, moves: { delivery: [0.3, 0.67, 0.03], elementDrop: [0.01, 0.12, 0.87], discharge: [0.02, 0.6, 0.38], feed: [0.25, 0.7, 0.05], nitrogen: [0.04, 0.7, 0.26] } },
  'drain-stuck-open': { perYear: 0.14, step: 0.85, afterVisit: 0.05, moves: { delivery: [0.01, 0.06, 0.93], elementDrop: [0.05, 0.5, 0.45], discharge: [0.01, 0.19, 0.8], feed: [0.01, 0.13, 0.86], feedFall: [0.01, 0.12, 0.87], compressorRun: [0.95, 0.04, 0.01], nitrogen: [0.47, 0.5, 0.03] } },
  'drain-stuck-closed': { perYear: 0.04, step: 0.35, afterVisit: 0.03, moves: { delivery: [0.1, 0.31, 0.59], elementDrop: [0.88, 0.11, 0.01], discharge: [0.6, 0.38, 0.02], feed: [0.01, 0.42, 0.57], nitrogen: [0.25, 0.55, 0.2] } },
  'compressor-side': { perYear: 0.13, step: 0.3, afterVisit: 0.03, moves: { delivery: [0.01, 0.04, 0.95], elementDrop: [0.02, 0.58, 0.4], discharge: [0.01, 0.24, 0.75], feed: [0.01, 0.22, 0.77], compressorRun: [0.95, 0.04, 0.01], nitrogen: [0.47, 0.5, 0.03] } },
  'membrane-decline': { perYear: 0.08, step: 0.35, afterVisit: 0.02, moves: { delivery: [0.4, 0.3, 0.3], discharge: [0.25, 0.55, 0.2], feed: [0.3, 0.45, 0.25], compressorRun: [0.3, 0.4, 0.3], nitrogen: [0.01, 0.06, 0.93] } },
} as const satisfies Partial<Record<Cause, Signature>>;
export type SignedCause = keyof typeof SIGNATURES;

/** Chances of a cause in a series; what its row leaves out stays still. */
export function chancesOf(cause: SignedCause, series: SignatureSeries): Chances {
  return (SIGNATURES[cause] as Signature).moves[series] ?? STILL;
}
