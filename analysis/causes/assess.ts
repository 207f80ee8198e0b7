import type { Channel } from '../../shared/channels.ts';
import type { DayRow, QuarterValues } from '../../shared/cycle.ts';
import type { AnalysisSettings } from '../../shared/analysis-settings.ts';
import { type Sees, seesOf } from '../../shared/distinguish.ts';
import type { Entry } from '../../shared/entry.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { type BandMoves, bandMoves } from './band-moves.ts';
import type { Baseline } from './baseline.ts';
import { ChangeWatch } from './change-watch.ts';
import type { Condition, Slot } from './condition.ts';
import { channelsHeard, daySeries, type Fill, fillsOf, type Watched, WATCHED } from './day-series.ts';
import { agedCell, cleanerThanClean, driftedPiping, setRight, zeroConditions, zeroDrifts } from './drifting-gauges.ts';
import { elementsAtVisit } from './elements-at-visit.ts';
import { type Epoch, epochOf, quarterBaseline } from './epochs.ts';
import { BY_DAY, findShift, type Shift } from './find-shift.ts';
import { impossibleDrop, impossibleNitrogen, jumpedPiping, turnedDrop } from './gauge-faults.ts';
import { type LeftOut, withoutLeftOut } from './left-out.ts';
import { absoluteLimits } from './limits.ts';
import { lyingBy, withoutLying } from './lying-gauges.ts';
import { isSetPoint } from './mends.ts';
import { purerAlone } from './purer-alone.ts';
import { ruleOf, seasonOf } from './shift-rule.ts';
import { stepInSeason } from './step-in-season.ts';
import { lastSetMs, shorterRuns } from './stops-short.ts';
import { absoluteFromTheFirst, emptiesAtStarts } from './tank-gauge.ts';
import { bandShift, type BandShift, CAREFUL_DAYS, SURE_DAYS } from './set-point.ts';

/** The closed days of a generator, with what everybody knew when the last of them closed. */
export type DaysKnown = { readonly rows: readonly DayRow[]; readonly entries: readonly Entry[]; readonly registered: RegisteredGenerator; /** Since when it feeds another number of risers. */ readonly pipedSinceMs?: number | undefined; readonly settings: AnalysisSettings; /** When the piping or the tank was last filled up, or nothing started, ms; what follows is no measure of the generator. */ readonly fills: readonly Fill[]; /** Channels that stand still now. */ readonly frozen: readonly Channel[]; /** Times that say nothing of what is usual. */ readonly leftOut: readonly LeftOut[] };

/** What follows from closed days alone; worked out once a day, or when somebody tells us something. */
export type DaysJudged = DaysKnown & {
  readonly epochs: ReadonlyMap<Watched, Epoch>;
  readonly byDay: ReadonlyMap<Watched, Shift>;
  readonly quarterBaselines: ReadonlyMap<Watched, Baseline>;
  readonly sees: Sees;
  readonly band: BandShift | undefined;
  /** The same by the last day alone: what it may have moved is not yet told as a fault. */
  readonly careful: BandShift | undefined;
  /** What the band's moves explain, where it is known. */
  readonly moves: BandMoves | undefined;
  /** Runs are cut short by days. */
  readonly cut: Condition | undefined;
  readonly limits: readonly Condition[];
  /** Gauges that say what can't be, or jumped; what they show is left out of all else. */
  readonly gauges: readonly Condition[];
  /** Gauges that drift by themselves. */
  readonly drifts: readonly Condition[];
  /** Nitrogen gets better by itself; of no account where less is made. */
  readonly purer: Condition | undefined;
  /** When the last service or new set point was: what came before says nothing of how long runs are. */
  readonly anewMs: number;
  /** No baseline has been learned yet. */
  readonly learning: boolean;
};

function meanSetKPa({ generator: { risers } }: RegisteredGenerator): number | undefined {
  const set = risers.flatMap((riser) => riser.setKPa ?? []);
  return set.length === 0 ? undefined : set.reduce((sum, kPa) => sum + kPa, 0) / set.length;
}

/** Gauges are held against the last days only. */
const GAUGE_DAYS = 40;
/** A piping's gauge that jumped stays told for so long. */
const PIPING_DAYS = 90;
/** Series whose shift opens a finding. */
const OPENS: ReadonlySet<Watched> = new Set(['demand', 'delivery', 'duty', 'elementDrop', 'nitrogen', 'feedFall', 'compressorRun']);

/** Learn the baselines of closed days and look for shifts by days. A pure function; about 1 ms for 400 days. */
export function judgeDays(seen: DaysKnown): DaysJudged {
  const zeros = zeroDrifts(seen.rows, seen.registered);
  const right = setRight(seen.rows, zeros);
  const recent = right.slice(-GAUGE_DAYS);
  const gauges = [impossibleDrop(right), turnedDrop(right, seen.entries), impossibleNitrogen(recent), jumpedPiping(right.slice(-PIPING_DAYS), seen.entries, meanSetKPa(seen.registered))].filter((condition) => condition !== undefined);
  const known = { ...seen, rows: withoutLeftOut(withoutLying(right, new Set([...lyingBy(seen.frozen), ...gauges.flatMap((gauge) => gauge.lying ?? [])])), seen.leftOut), fills: fillsOf(seen.fills, seen.entries) };
  const { rows, entries, registered, settings } = known;
  const fromMs = registered.generator.commissionedAt === undefined ? 0 : Date.parse(registered.generator.commissionedAt);
  const lastSetPointMs = Math.max(fromMs, ...entries.filter(isSetPoint).map((entry) => Date.parse(entry.startedAt)));
  const servedMs = Math.max(fromMs, ...entries.filter((entry) => entry.kind === 'service').map((entry) => Date.parse(entry.finishedAt ?? entry.startedAt)));
  const band = bandShift(rows, lastSetPointMs, servedMs, SURE_DAYS);
  const careful = band ?? bandShift(rows, lastSetPointMs, servedMs, CAREFUL_DAYS);
  const moves = bandMoves(rows, entries, fromMs, band);
  const epochs = new Map<Watched, Epoch>();
  const byDay = new Map<Watched, Shift>();
  const quarterBaselines = new Map<Watched, Baseline>();
  const series = daySeries(rows, known.fills);
  for (const name of WATCHED) {
    const epoch = epochOf(series, entries, name, { rows, baselineDays: settings.baselineDays, fromMs, moves, pipedSinceMs: known.pipedSinceMs });
    if (epoch === undefined || epoch.points.length === 0) continue;
    // Pressures only tell causes apart; whether they moved is asked when something else did.
    if (!OPENS.has(name)) {
      epochs.set(name, epoch);
      continue;
    }
    const rule = ruleOf(epoch, { settings, careful, moves, rows }, BY_DAY);
    const { shift, baseline } = findShift(epoch.points, epoch.baseline, rule);
    const learned = { ...epoch, baseline };
    epochs.set(name, learned);
    const found = shift ?? (name === 'delivery' ? stepInSeason(epoch, rule, seasonOf(name, rows)) : undefined);
    if (found !== undefined) byDay.set(name, found);
    const quarters = quarterBaseline(rows, learned, known.fills, moves);
    if (quarters !== undefined) quarterBaselines.set(name, quarters);
  }
  const drifts = [...zeroConditions(zeros, registered.site.timeZone), agedCell(rows, entries, fromMs), cleanerThanClean(rows, entries, fromMs), driftedPiping(rows, lastSetPointMs), absoluteFromTheFirst(rows, registered, entries)].filter((condition) => condition !== undefined);
  const sees = seesOf(channelsHeard(rows));
  return { epochs, byDay, quarterBaselines, sees, band, careful, moves, gauges, drifts, purer: purerAlone(rows, entries, registered, fromMs), anewMs: Math.max(servedMs, lastSetPointMs), cut: shorterRuns(rows, lastSetMs(entries)), limits: absoluteLimits(rows, registered, sees, servedMs, known.fills), learning: !epochs.has('duty'), ...known };
}

/** What is believed now, from the closed days and the quarters since. A gauge that lies is looked for first. */
export function assess(days: DaysJudged, openQuarters: readonly QuarterValues[]): Condition[] {
  // More cycles, each of less gas, look like more drawn and more made.
  if (days.cut !== undefined) return [days.cut, ...days.drifts];
  const watch = new ChangeWatch(days, openQuarters);
  const tank = [watch.scaled(), emptiesAtStarts(days.rows.slice(-GAUGE_DAYS)), watch.movedBand()].filter((condition) => condition !== undefined);
  const gauge = [...tank, ...days.gauges];
  if (tank.some((condition) => condition.cause === 'sensor-fault')) return [...gauge, ...days.drifts];
  const lacking = elementsAtVisit(days.rows, days.entries, days.registered.site.timeZone);
  const told = lacking === undefined ? watch.conditions() : [...watch.conditions().filter((condition) => condition.slot !== 'delivery'), lacking];
  // A limit that is passed is said with the change that passed it.
  const changed = told.map((condition) => ({ ...condition, evidence: [...condition.evidence, ...days.limits.filter((limit) => limit.slot === condition.slot).flatMap((limit) => limit.evidence.slice(0, 1))] }));
  const taken = new Set<Slot>(changed.map((condition) => condition.slot));
  const limits = days.limits.filter((condition) => !taken.has(condition.slot) && !(condition.slot === 'duty' && taken.size > 0));
  const purer = days.purer === undefined || days.drifts.length > 0 || [...changed, ...limits].some((condition) => condition.slot === 'delivery') ? [] : [days.purer];
  return [...changed, ...limits, ...gauge, ...days.drifts, ...purer];
}
