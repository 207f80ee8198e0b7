import type { FeedFall } from '../../shared/cycle.ts';
import type { Evidence } from '../../shared/finding.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../shared/time.ts';
import type { Sees } from '../../shared/distinguish.ts';
import type { Baseline } from './baseline.ts';
import type { MotorRuns } from './motor-trips.ts';
import type { CycleWeek, RecentCycle, RecentCycles } from './recent-cycles.ts';

/** What is told of now, as far as it decides whether the same goes on. */
export type SaidOpen = {
  /** When it was said last not to start, while that finding is open. */
  readonly missedStartMs: number | null;
  /** A finding that runs are cut short is open: the weeks that it was found against, none where days found it; else null. */
  readonly cutShort: readonly CycleWeek[] | null;
  /** A supply finding is open: it holds until the piping is nearly back. */
  readonly supplyOpen: boolean;
  /** Demand was found to have risen: what a visit mends of it makes rests longer. */
  readonly demandOpen: boolean;
  /** When the last such finding was over; null if none was. */
  readonly demandOverMs: number | null;
  /** When the last finding of a supply that is shut or bypassed was over; null if none was. */
  readonly supplyOverMs: number | null;
  /** Gas is said to run back through the check valve: the feed side empties as it likes. */
  readonly leaksBack: boolean;
  /** When a compressor that ran without end was last said to stop again; null if none was. */
  readonly endlessOverMs: number | null;
  /** Open findings that say that a visit left something open, with what spoke for it. */
  readonly bleedSaid: readonly { readonly slot: 'demand' | 'delivery'; readonly openedMs: number; readonly evidence: readonly Evidence[] }[];
};

/** What is going on at the frontier. Pressures are kPa gauge and carry the time of their sample. */
export type Present = {
  readonly frontierMs: number;
  readonly running: boolean | null;
  /** It rests by what the tank does, and the last word was that it runs. */
  readonly restUnsaid: boolean;
  /** The compressor's own state, which behind an air receiver is another than the generator's. */
  readonly motorOn: boolean | null;
  /** Since when it is in that state, and how often that was said. */
  readonly motorSinceMs: number | null;
  readonly motorTimesSaid: number;
  /** Its own runs of late, behind an air receiver; null without one. */
  readonly motorRuns: MotorRuns | null;
  readonly sinceMs: number | null;
  /** The cycle under way, once the tank has lost half of its band in its rest: with the rest that its fall so far makes likely. */
  readonly openCycle: RecentCycle | null;
  /** Starts and stops are read by the clock: the tank's pressure at them may be off by what it moves from report to report. */
  readonly saidLate: boolean;
  /** When the last run began, whether or not it has ended. */
  readonly startedMs: number | null;
  /** Tank pressure at the start of the last run, where it was seen. */
  readonly startKPa: number | null;
  /** When the run state was last said: one lost packet must not make a run endless. */
  readonly heardMs: number | null;
  readonly timesSaid: number;
  /** The tank has fallen over the last half hour: it is hardly being filled. */
  readonly falling: boolean;
  readonly tankKPa: number | null;
  readonly tankAtMs: number | null;
  /** Since when the tank has been below cut-in without a run; null if it isn't. */
  readonly belowSinceMs: number | null;
  /** The tank is that low, run or rest, and came there much faster than it ever falls: by a gauge that jumped, or by a burst. */
  readonly belowSuddenly: boolean;
  /** The tank's pressure comes so often that no usual run slips between two samples. */
  readonly tankShowsRuns: boolean;
  /** Nor does a usual rest: several of them come in it. */
  readonly tankShowsRests: boolean;
  /** Since when the hour meter has stood, as far as it was heard: it went on at some time before that. */
  readonly meterSinceMs: number | null;
  /** How long the hour meter was heard standing still, ms; null where it isn't sent. */
  readonly meterStillMs: number | null;
  /** An hour meter or a duty ratio tells of runs and rests. */
  readonly isMetered: boolean;
  /** Where no run state is sent: since when the hour meter or the duty ratio says that it ran all the time, how often, and when last; null where it doesn't. */
  readonly full: { readonly sinceMs: number; readonly heardMs: number; readonly times: number } | null;
  /** Where no run state is sent: since when the hour meter or the duty ratio says that it rests, when last and of what span, and how long the last rest was that ended; null where it doesn't. */
  readonly toldRest: { readonly sinceMs: number; readonly heardMs: number; readonly spanS: number; readonly lastRestS: number } | null;
  /** How the tank moved in the first half hour of the run under way, else over the last half hour to hour, kPa a minute; null where that isn't known. */
  readonly tankKPaPerMin: number | null;
  /** Newest pressure before the elements, where it came in this run. */
  readonly dischargeKPa: number | null;
  /** Newest nitrogen of this run, once it is ten minutes old, per cent. */
  readonly nitrogenPercent: number | null;
  /** The tank keeps its pressure while the compressor rests: nothing is drawn. `null` where it isn't sent. */
  readonly tankHolds: boolean | null;
  /** Where the tank began to rest: its highest pressure since it was last filled, whether or not a run state is sent. */
  readonly crestKPa: number | null;
  readonly crestAtMs: number | null;
  /** How fast the feed side emptied after the last stops. */
  readonly feedFalls: readonly FeedFall[];
  /** The tank's pressure every ten minutes of the last hour, the newest last. */
  readonly tankTrail: readonly (readonly [atMs: number, kPa: number])[];
  /** The same every hour of the last two days. */
  readonly tankHours: readonly (readonly [atMs: number, kPa: number])[];
  /** How many risers send a pressure. */
  readonly pipings: number;
  /** Likewise the piping's. */
  readonly systemHours: readonly (readonly [atMs: number, kPa: number])[];
  readonly systemKPa: number | null;
  readonly systemAtMs: number | null;
  /** It is lower than it ever is on most days, and goes on falling, or did when that was found: nothing feeds it. */
  readonly systemSags: boolean;
  /** It is so, and falls slowly, hour after hour: after a visit nothing feeds it; else a cold night or a regulator may do that. */
  readonly systemSinks: boolean;
  /** It has risen, or fallen, over the last half hour to hour. */
  readonly systemRises: boolean;
  readonly systemFalls: boolean;
  /** Since when it has been below what a shut valve brings at once: let down by somebody, or by a trip; null if it isn't. */
  readonly systemLowSinceMs: number | null;
  readonly power: boolean | null;
  readonly powerSinceMs: number | null;
  /** When the mains were last said to be present or absent. */
  readonly powerHeardMs: number | null;
  /** The tank or the piping rises: what was let out is filled up again. */
  readonly filling: boolean;
} & SaidOpen;

/** What is normal here, and what was set. */
export type Normal = {
  readonly cycles: RecentCycles;
  /** Middle of the piping's pressure in good days, kPa gauge. */
  readonly systemKPa: number | null;
  /** What it is set to by the registry: what it stands above that, it comes down to by right. */
  readonly systemSetKPa: number | null;
  readonly lowPressureKPa: number | null;
  /** Longest rest of the days that the baseline was learned from, s: after a leak is mended rests grow back to it. */
  readonly baselineRestS: number;
  /** What the longest rest of a day is within on three days of four, s; 0 where that isn't known. */
  readonly usualDayRestS: number;
  /** Where runs are only counted: the upper tenth of the days' mean runs in the last weeks, s; null where that isn't known. */
  readonly countedRunS: number | null;
  /** The longest runs and rests of days as an hour meter or a duty ratio tells them, s; null where that isn't known. */
  readonly usualTold: { readonly runS: number; readonly restS: number } | null;
  /** How fast the tank falls at rest in good days, kPa a minute; null where it isn't known. */
  readonly fallKPaPerMin: number | null;
  /** Share of that which isn't drawn in bursts; null where that can't be told. */
  readonly quietShare: number | null;
  readonly cutInKPa: number | null;
  readonly cutOutKPa: number | null;
  /** The band that somebody logged last, which the cycles may not have shown yet; its start, just after a service, as the registry has it. */
  readonly setStartKPa: number | null;
  readonly setStopKPa: number | null;
  readonly sees: Sees;
  /** What the pressure before the elements is in runs of good days, kPa gauge. */
  readonly dischargeKPa: number | null;
  /** What nitrogen is in good days, per cent. */
  readonly nitrogenPercent: number | null;
  /** How fast the feed side empties in good days: ln of s. */
  readonly feedFall: Baseline | null;
  /** The site's, for dates in sentences. */
  readonly timeZone: string;
};

/** Piping below this share of its usual pressure was let down by somebody, or by a trip: no shut valve does that at once. */
export const LET_DOWN = 0.6;
/** A controller's switch wanders by a few kPa; what is farther off is no wander. Common practice, no source. */
export const SWITCH_TOLERANCE_KPA = 20;
/** A tank this far below the usual start should have been answered by one; a controller's wander is a fraction of it. Common practice, no source. */
export const LATE_START_KPA = 12;

/** A pressure older than this is not "now". */
export const FRESH_MS = 20 * MINUTE_MS;
/** A value, where it is of now. */
export function freshValue(value: number | null, atMs: number | null, nowMs: number): number | null {
  return value !== null && atMs !== null && nowMs - atMs <= FRESH_MS ? value : null;
}

export const minutes = (ms: number): string => `${Math.round(ms / MINUTE_MS)} min`;
/** A time in the unit that a person would say it in. */
export const hours = (ms: number): string => (ms < 2 * HOUR_MS ? minutes(ms) : ms < 3 * DAY_MS ? `${Math.round((ms / HOUR_MS) * 10) / 10} h` : `${Math.round(ms / DAY_MS)} days`);
