import type { DayRow } from './cycle.ts';
import type { GeneratorKey } from './ids.ts';

/*
 * What analysis knows of one generator beside its findings, days and rank, for its page. Sentences carry numbers and units;
 * the figures stand beside them for whoever wants to reckon on.
 */

/** How long until the low-pressure signal of the piping. Hours are null where they can't be told; `says` then says why. */
export type Urgency = {
  /** If the generator stops now: what the tank still gives, then the piping's fall. */
  readonly ifStopsHours: number | null;
  /** If the supply to the piping is shut now: the piping's fall alone. */
  readonly ifShutHours: number | null;
  readonly pipingFallKPaPerHour: number | null;
  /** `measured` in the piping between refills or while it was shut; `from demand`: as if all demand were the piping's, so it is rather too fast. */
  readonly fallFrom: 'measured' | 'from demand' | null;
  readonly systemKPa: number | null;
  readonly lowPressureKPa: number | null;
  readonly says: string;
};

/** The smallest lasting change that would be seen within 3 and within 10 days, as after/before − 1. Null: not within these days. */
export type SmallestSeen = { readonly series: 'demand' | 'delivery'; readonly scatter: number; readonly baselineDays: number; readonly within3Days: number | null; readonly within10Days: number | null };
export type CanShow = { readonly smallest: readonly SmallestSeen[]; readonly says: readonly string[] };

/** The present demand in the trade's terms; an indication, never a test result. */
export type LeakTerms = {
  readonly unit: DayRow['unit'];
  readonly demandNLPerMin: number;
  /** At 20 °C and 101.325 kPa. */
  readonly standardLitresPerMin: number;
  /** Of one round sharp-edged hole (coefficient 0.65) at the piping's pressure, and at the tank's. */
  readonly holeMm: { readonly piping: number | null; readonly tank: number | null };
  /** Fall of the piping over 24 h and 2 h if the supply were shut at 40 psi, kPa. */
  readonly fallIn24hKPa: number | null;
  readonly fallIn2hKPa: number | null;
  readonly energyKWhPerYear: number | null;
  readonly costPerYear: number | null;
  readonly says: readonly string[];
};

export type GeneratorReview = { readonly generator: GeneratorKey; readonly atMs: number; readonly urgency: Urgency; readonly canShow: CanShow | null; readonly leakTerms: LeakTerms | null };

/** One side of a visit: sums over days, or over cycles at the same hours. Null where it isn't known. */
export type BeforeAfter = { readonly days: number; readonly dutyRatio: number | null; readonly meanRunMin: number | null; readonly meanRestMin: number | null; readonly demand: number | null; readonly delivery: number | null; readonly unit: DayRow['unit']; readonly elementDropKPa: number | null; readonly nitrogen: number | null };

export const VERDICTS = ['improved', 'not improved', 'worse', 'not enough data yet'] as const;
export type Verdict = (typeof VERDICTS)[number];
export const LOOKS = ['4 h', '24 h', 'days'] as const;

/** A look back at a visit that comes by itself: 4 h and 24 h after it, then whenever a day closes. One of each kind is kept for a visit. */
export type Verification = {
  readonly generator: GeneratorKey;
  /** Id of the entry. */
  readonly visit: string;
  readonly visitedAtMs: number;
  readonly look: (typeof LOOKS)[number];
  readonly atMs: number;
  readonly verdict: Verdict;
  readonly before: BeforeAfter;
  readonly after: BeforeAfter;
  /** The figures in sentences, and what is not known yet. */
  readonly says: readonly string[];
  /** A finding opened since, of the same cause as one from before the visit: [earlier, new]. */
  readonly recurrence: readonly [earlier: string, again: string] | null;
};
