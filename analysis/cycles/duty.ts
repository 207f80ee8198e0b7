import { contentNow, riseBetween, spread } from './counters.ts';
import { reportEveryS } from './normal.ts';
import type { DescriptorSetup, DescriptorState } from './state.ts';

/** A share speaks for the time since the one before, and for no more than this many usual spans (design, section 5). */
const SPAN_TIMES = 1.5;

/** A share of running came: run and rest of the span that it speaks for; how often it started can't be told. */
export function dutySent(state: DescriptorState, setup: DescriptorSetup, atMs: number, share: number): void {
  const before = state.duty;
  const usualS = before?.usualS ?? 0;
  const sinceS = before === null ? 0 : (atMs - before.atMs) / 1000;
  const mostS = SPAN_TIMES * (usualS > 0 ? usualS : reportEveryS(state, setup));
  const spanS = Math.min(sinceS, mostS);
  const content = contentNow(state, atMs);
  const riseKPa = spanS < sinceS ? undefined : riseBetween(before?.content, content);
  if (spanS > 0) spread(state, setup, { fromMs: atMs - spanS * 1000, toMs: atMs, riseKPa }, Math.max(0, Math.min(1, share)), 'duty');
  state.duty = { atMs, usualS: nextUsual(usualS, sinceS), ...(content === undefined ? {} : { content }) };
}

/** The usual gap follows by no more than a tenth at each, so that one silence doesn't stretch it. */
export function nextUsual(usualS: number, gapS: number): number {
  if (gapS <= 0) return usualS;
  return usualS === 0 ? gapS : usualS + Math.max(-usualS / 10, Math.min(usualS / 10, gapS - usualS));
}
