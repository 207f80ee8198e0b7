/** How many reporting intervals may pass before a generator counts as silent. */
export const SILENT_AFTER_INTERVALS = 3;
/** Reporting interval that is assumed until 24 h are heard, s. */
export const DEFAULT_REPORT_EVERY_S = 3600;
/** No interval shorter than this is believed, s: a burst must not make a generator look silent soon after. */
export const LEAST_REPORT_EVERY_S = 60;
/** Fewer gaps than this say nothing of how often a generator reports. */
const GAPS_NEEDED = 3;

/** Whether a generator last heard at `lastHeardMs` is silent now. */
export function isSilent(lastHeardMs: number, reportEveryS: number, nowMs: number): boolean {
  return nowMs - lastHeardMs > SILENT_AFTER_INTERVALS * reportEveryS * 1000;
}

/**
 * How often a generator reports: the 90 % quantile of the gaps between its packets, at least 60 s;
 * 3600 s until 24 h are heard and there are 3 gaps.
 */
export function reportEveryFromGaps(gapsS: readonly number[], heardForS: number): number {
  if (heardForS < 86_400 || gapsS.length < GAPS_NEEDED) return DEFAULT_REPORT_EVERY_S;
  const sorted = [...gapsS].sort((a, b) => a - b);
  return Math.max(LEAST_REPORT_EVERY_S, sorted[Math.ceil(0.9 * sorted.length) - 1]!);
}
