import { quantile } from 'simple-statistics';
import type { DescriptorSetup, DescriptorState } from './state.ts';
import { medianOf } from './thinned.ts';

/** Where a controller starts and stops, kPa gauge. */
export type Band = { readonly lowKPa: number; readonly highKPa: number };

/** How many recent cycles are remembered. */
const RECENT = 16;
/** Cycles needed before "longest normal" means anything. */
const LEAST = 4;
/** Gaps between readings, by powers of √2 from 15 s on; the last class is open. */
const GAP_CLASSES = 24;
/** A silence of days weighs as this much in the learning of the usual gap, s. */
const MOST_GAP_S = 3600;
const DAY_S = 86_400;

function remember(list: number[], value: number): void {
  list.push(Math.round(value * 100) / 100);
  if (list.length > RECENT) list.shift();
}

/** Upper end of normal lengths: the 90 % quantile of recent ones, so that one odd run doesn't stretch it. `null` with fewer than 4. */
export function longestNormal(recentS: readonly number[]): number | null {
  return recentS.length < LEAST ? null : quantile(recentS, 0.9);
}

/** What a cycle moves is the band, but for the switch's wander and the gas's warmth. */
export const BAND_SHARE = 0.03;
/**
 * The warm share follows the middle rest by a small step, per mille of the band, at each: a rest that ends in a burst seems to have lost far too little. It is found in large
 * steps until one goes back, within a few rests: what is learned over weeks would look like delivery that declines. More than the most is no warmth.
 * Common practice, no source.
 */
const WARM_STEPS = { finding: 12, found: 1 } as const;
const WARM_MOST = 100;

/**
 * Gas that a run has just pressed in is warmer than the tank: at the stop its gauge shows more of the band than there is once it
 * has settled. Learned from rests that were seen, whose settled fall is less than the band by that share (simulated worlds: 4 to 5 %).
 */
export function learnWarmShare(state: DescriptorState, setup: DescriptorSetup, fallKPa: number): void {
  const band = bandOf(state, setup);
  if (band === null) return;
  const before = state.warmPerMille ?? 0;
  const share = Math.abs(before);
  const isMore = 1000 * (1 - fallKPa / (band.highKPa - band.lowKPa)) > share;
  const isFound = before > 0 || !isMore;
  const now = Math.max(1, Math.min(WARM_MOST, share + (isMore ? 1 : -1) * (isFound ? WARM_STEPS.found : WARM_STEPS.finding)));
  state.warmPerMille = isFound ? now : -now;
}

/** Reports that come so rarely show too little of a rest, and miss the ends of runs. */
const SPARSE_S = 600;

/** Whether reports are rare, or rarer than runs. */
export function reportsRarely(state: DescriptorState, setup: DescriptorSetup): boolean {
  const everyS = reportEveryS(state, setup);
  return everyS >= SPARSE_S || (state.recentRunS.length >= LEAST && medianOf(state.recentRunS)! < everyS);
}

/**
 * A band whose ends both agree with those that are set within the first share of it is that, and stays it up to the second: each day has other
 * edges that were missed, and what is made would jump with them. Where no run state says when it starts, runs show too few samples, and the top
 * agrees, the bottom may be further off: bursts are over between two reports. Common practice, no source.
 */
const SAME_END = 0.2;
const STILL_SAME_END = 0.4;
const SAME_TOP = 0.1;

/** The band that the controller is set to, as it was logged last, else as registered; `null` where one end of it isn't known. */
export function setBand({ lastAnyMs }: DescriptorState, { registered: { generator }, setPoints = [] }: DescriptorSetup): Band | null {
  const logged = (end: 'cutInKPa' | 'cutOutKPa'): number | undefined => setPoints.findLast((one) => one.fromMs <= lastAnyMs && one[end] !== undefined)?.[end] ?? generator[end];
  const [lowKPa, highKPa] = [logged('cutInKPa'), logged('cutOutKPa')];
  return lowKPa === undefined || highKPa === undefined || highKPa <= lowKPa ? null : { lowKPa, highKPa };
}

/** By which share of the set band one end of the learned one is off. */
function offSet(band: Band, set: Band, end: keyof Band): number {
  return Math.abs(band[end] - set[end]) / (set.highKPa - set.lowKPa);
}

/** The outer fifth of the last starts and stops: rare reports miss the ends of most. */
export const OUTER = 0.2;

function outerBand({ recentStartKPa, recentStopKPa }: DescriptorState): Band {
  return { lowKPa: quantile(recentStartKPa, OUTER), highKPa: quantile(recentStopKPa, 1 - OUTER) };
}

/** Where no run state is sent, the last run said by its samples whether they are enough. */
function runsAreCoarse({ run, saw }: DescriptorState): boolean {
  return run.phase === null && saw.coarse;
}

/** Whether rare reports miss the ends of the band that is set; once it is so it is for longer, and some runs with samples enough change nothing. */
function isAsSet(state: DescriptorState, setup: DescriptorSetup): boolean {
  const { fillsSet: before = false } = state;
  const set = setBand(state, setup);
  if (state.band === null || set === null) return false;
  const isRare = runsAreCoarse(state) || reportsRarely(state, setup) || (before && state.run.phase === null);
  if (!isRare) return false;
  const most = before ? STILL_SAME_END : SAME_END;
  const band = outerBand(state);
  return offSet(band, set, 'highKPa') <= most && offSet(band, set, 'lowKPa') <= most;
}

/** A learned band that lies within the set one and is so much narrower is what rare reports left of it, or runs that are cut short: nobody knows what a run fills. Common practice, no source. */
const NARROW = 0.8;

/** Whether rare reports show so little of the band that is set that what a run fills can't be told. */
export function fillsUnknown(state: DescriptorState, setup: DescriptorSetup): boolean {
  const { band, fillsSet } = state;
  const set = setBand(state, setup);
  if (band === null || set === null || fillsSet === true || !reportsRarely(state, setup)) return false;
  const widthKPa = set.highKPa - set.lowKPa;
  const edgeKPa = SAME_TOP * widthKPa;
  return band.lowKPa > set.lowKPa - edgeKPa && band.highKPa < set.highKPa + edgeKPa && band.highKPa - band.lowKPa < NARROW * widthKPa;
}

/** The band that a run fills: as learned, but as it is set where rare reports miss its ends. */
export function filledBand(state: DescriptorState, setup: DescriptorSetup): Band | null {
  const band = bandOf(state, setup);
  const set = setBand(state, setup);
  if (band === null || set === null) return band;
  if (state.fillsSet === true) return set;
  return runsAreCoarse(state) && set.lowKPa < band.lowKPa && offSet(band, set, 'highKPa') <= SAME_TOP ? { lowKPa: set.lowKPa, highKPa: band.highKPa } : band;
}

/** Whether the runs that are told fill this tank: behind an air receiver the compressor's own fill another vessel. */
export function fillsOwnTank(state: DescriptorState, setup: DescriptorSetup): boolean {
  return setup.registered.generator.layout === 'direct' || state.run.channel === 'producing';
}

/** What a run from start to stop puts into the tank, kPa. */
export function fillingKPa(state: DescriptorState, { lowKPa, highKPa }: Band): number {
  return (1 - Math.abs(state.warmPerMille ?? 0) / 1000) * (highKPa - lowKPa);
}

/** Rests of an hour are short ones, and stay so up to an hour and a quarter: what is told by another method from one day to the next seems to change. */
export const SHORT_REST_TOP_S = 3600;
const STILL_SHORT_S = 4500;

/** Learn what is usual from a complete cycle in holding. */
export function rememberCycle(state: DescriptorState, runS: number, restS: number): void {
  remember(state.recentRunS, runS);
  remember(state.recentRestS, restS);
  state.usualRestS = medianOf(state.recentRestS)!;
  state.shortRests = state.usualRestS <= (state.shortRests === true ? STILL_SHORT_S : SHORT_REST_TOP_S);
}

/** Learn the band that the controller holds from the tank's pressure at a start or a stop, kPa gauge. */
export function rememberEdge(state: DescriptorState, setup: DescriptorSetup, edge: 'start' | 'stop', kPa: number): void {
  const list = edge === 'start' ? state.recentStartKPa : state.recentStopKPa;
  remember(list, kPa);
  if (state.recentStartKPa.length < 3 || state.recentStopKPa.length < 3) return;
  const lowKPa = medianOf(state.recentStartKPa)!;
  const highKPa = medianOf(state.recentStopKPa)!;
  state.band = highKPa > lowKPa ? { lowKPa, highKPa } : null;
  if (isAsSet(state, setup)) state.fillsSet = true;
  else delete state.fillsSet;
}

/** The band as learned, else as it is set. */
export function bandOf(state: DescriptorState, setup: DescriptorSetup): Band | null {
  return state.band ?? setBand(state, setup);
}

/**
 * Learn how often the generator reports, from a gap between two instants with readings.
 * The quantile is weighted by time (which gap is a moment of the day in?), as many gateways send every 10 s in a run and
 * every 5 min in a rest: by count, 90 % of the gaps are 10 s and every rest would look like a silence.
 */
export function learnGap(state: DescriptorState, gapS: number): void {
  const at = gapClass(gapS);
  const weightS = Math.min(gapS, MOST_GAP_S);
  while (state.gapS.length <= at) state.gapS.push(0);
  state.gapS[at] = state.gapS[at]! + weightS;
  const first = state.heardS < 3600;
  state.heardS += weightS;
  if (first && state.heardS >= 3600) state.usualS = usualGap(state.gapS);
}

/** At a quarter's edge: the usual gap anew, and the older past at half weight once two days are known. */
export function settleGap(state: DescriptorState): void {
  state.usualS = usualGap(state.gapS);
  const totalS = state.gapS.reduce((total, one) => total + one, 0);
  if (totalS > 2 * DAY_S) state.gapS = state.gapS.map((one) => Math.round(one / 2));
}

/** How often the generator reports, s: as registered or as learned, the longer; 3,600 until 24 h are heard. */
export function reportEveryS(state: DescriptorState, setup: DescriptorSetup): number {
  const registered = setup.registered.generator.reportEveryS;
  if (registered !== undefined) return Math.max(registered, state.usualS);
  return state.heardS < DAY_S || state.usualS === 0 ? Math.max(3600, state.usualS) : Math.max(60, state.usualS);
}

function gapClass(gapS: number): number {
  return gapS <= 15 ? 0 : Math.min(GAP_CLASSES - 1, Math.ceil(Math.log2(gapS / 15) * 2 - 1e-9));
}

function usualGap(byClass: readonly number[]): number {
  const total = byClass.reduce((sum, one) => sum + one, 0);
  let within = 0;
  for (let at = 0; at < byClass.length; at += 1) {
    within += byClass[at]!;
    if (within >= 0.9 * total && total > 0) return 15 * 2 ** (at / 2);
  }
  return 0;
}
