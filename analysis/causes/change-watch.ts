import type { QuarterValues } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { median } from '../change/robust.ts';
import type { DaysJudged } from './assess.ts';
import { explainedAt, movesSentence } from './band-moves.ts';
import { restartsOf } from './baseline.ts';
import { byBursts } from './by-bursts.ts';
import { byTurns } from './by-turns.ts';
import type { Condition, OnsetMs, Slot } from './condition.ts';
import { DAYS_BEFORE, DAYS_SINCE, lostByNitrogen, poorerByLess, purerByLess } from './by-nitrogen.ts';
import type { Watched } from './day-series.ts';
import { type Epoch, quarterEpoch } from './epochs.ts';
import { dayWords, evidenceFor, movementSentence } from './evidence.ts';
import { BY_QUARTER, findShift, presentLevel, type Shift, SMALLEST_CHANGE } from './find-shift.ts';
import { chanceOfGauge, type Level, scaledGauge } from './gauge-faults.ts';
import { MENDS_DEMAND } from './mends.ts';
import { nameCause } from './name-cause.ts';
import { setPointChanged } from './set-point.ts';
import { shapeOf } from './shape.ts';
import { ruleOf } from './shift-rule.ts';
import type { SignatureSeries, SignedCause } from './signatures.ts';
import { type Movement, type Observation, weighCauses } from './weigh-causes.ts';

const DEMAND_UP: readonly SignedCause[] = ['leak', 'bleed-left-open', 'check-valve-leaking'];
const DEMAND_DOWN: readonly SignedCause[] = ['valve-left-shut', 'supply-bypassed'];
const DELIVERY: readonly SignedCause[] = ['element-loading', 'element-missing', 'drain-stuck-open', 'drain-stuck-closed', 'compressor-side', 'membrane-decline', 'bleed-left-open'];
/** Less made and less pure at once. */
const PASSES_LESS_PURE: readonly SignedCause[] = ['membrane-decline', 'drain-stuck-closed'];
/** What makes the compressor run longer for the same nitrogen: it gives less, or air is lost before the membrane; the receiver's regulator keeps delivery and the other pressures as they are. More than a worn one can: then air is lost. */
const AIR_SIDE: readonly SignedCause[] = ['compressor-side', 'drain-stuck-open', 'bleed-left-open', 'membrane-decline'];
const AIR_LOST: readonly SignedCause[] = ['drain-stuck-open', 'bleed-left-open'];
/** ln of that; a compressor that lost 45 % of its flow no longer fills its receiver. Common practice, no source. */
const MOST_BY_WEAR = 0.6;
const ANY: readonly SignedCause[] = ['leak', 'check-valve-leaking', ...DELIVERY];
/** ln of what is left of demand: where nobody could have mended anything; where a visit mended something of demand; where it may have shut one of several risers. */
const DEMAND_LOST = -0.9;
const DEMAND_GONE = -2.3;
const RISER_LOST = -0.35;
/** Where no visit is near: more than users who come and go make it wander. */
const RISER_GONE = -0.45;
/** Standard error of a day's demand, as a share of it, from which on it comes and goes, so many times what it was over the days before. Common practice, no source. */
const COMES_AND_GOES = 0.2;
const WITHIN_TIMES = 3;
const WITHIN_DAYS = 60;
/** Chance of a step from which a loss that nobody was there for is one: valves are turned, leaks that are mended are logged. */
const AT_ONCE = 0.8;
/** ln of a delivery that no season and no wear brings. */
const LETS_THROUGH = 0.1;
/** Days that say so: runs that are cut short seem to make more. */
const LETS_DAYS = 4;
/** Piping so far above its usual pressure within so many days is fed by what is in it. Common practice, no source. */
const SURPLUS_KPA = 10;
const SURPLUS_DAYS = 14;
/** So many days without nitrogen, and nobody sees it. */
const NITROGEN_DAYS = 3;
/** Onset within a day and a half of a visit's end counts as after it. */
const AFTER_VISIT_MS = 1.5 * DAY_MS;

/** A shift with the series that shows it: days, or quarters before the days know. */
export type Watching = { readonly epoch: Epoch; readonly shift: Shift; readonly byDay: boolean };

/** The shifts that there are at one moment, as conditions: what changed, since when, and by which cause. */
export class ChangeWatch {
  readonly #days: DaysJudged;
  readonly #openQuarters: readonly QuarterValues[];
  /** Each series is looked at once. */
  readonly #watched = new Map<Watched, Watching | undefined>();

  constructor(days: DaysJudged, openQuarters: readonly QuarterValues[]) {
    this.#days = days;
    this.#openQuarters = openQuarters;
  }

  conditions(): Condition[] {
    const demand = this.#watch('demand');
    const delivery = this.#comesAndGoes() ? undefined : this.#watch('delivery');
    const drop = this.#watch('elementDrop');
    const nitrogen = lostByNitrogen(this.#days, this.#watch('nitrogen'));
    const found: (Condition | undefined)[] = [];
    if (demand?.shift.direction === 'up') found.push(this.#name('demand', demand, DEMAND_UP, ['demand', 'system', 'feedFall'], delivery?.shift.direction === 'down' ? null : this.#amounts(demand)));
    const starved = demand?.shift.direction === 'down' && demand.byDay && this.#isLost(demand);
    if (starved) found.push(this.#name('demand', demand, DEMAND_DOWN, ['demand', 'system'], null));
    const letsThrough = demand?.shift.direction === 'up' ? undefined : this.#letsThrough(delivery);
    if (letsThrough !== undefined) found.push(letsThrough);
    const purer = delivery === undefined && nitrogen === undefined ? purerByLess(this.#days) : undefined;
    const poorer = delivery === undefined && nitrogen === undefined ? poorerByLess(this.#days) : undefined;
    const emptying = this.#watch('feedFall');
    // A feed side that empties slower since its drain was mended is as it should be.
    if (demand?.shift.direction !== 'up' && emptying?.shift.direction === 'up' && emptying.epoch.learned) found.push(this.#name('demand', emptying, ['check-valve-leaking', 'leak'], ['demand', 'feedFall'], null));
    const airSide = this.#watch('compressorRun');
    const lost = [delivery, drop, nitrogen, purer, poorer, emptying, airSide].find((one) => one !== undefined && (one.epoch.name === 'elementDrop' ? one.shift.direction === 'up' || delivery !== undefined : one.shift.direction === (one === purer || one === airSide ? 'up' : 'down')));
    // Where hardly anything is drawn a day has a run or two, which say little of what is made.
    if (lost !== undefined && lost === airSide) found.push(this.#name('delivery', lost, lost.shift.effect > MOST_BY_WEAR ? AIR_LOST : AIR_SIDE, ['feedFall', 'compressorRun', 'nitrogen'], null));
    else if (lost !== undefined && !(starved && lost === delivery)) found.push(this.#name('delivery', lost, lost === poorer ? PASSES_LESS_PURE : DELIVERY, ['delivery', 'elementDrop', 'discharge', 'feed', 'feedFall', 'compressorRun', 'nitrogen'], null));
    if (!this.#days.epochs.has('demand') && !this.#days.epochs.has('delivery')) {
      const duty = this.#watch('duty');
      if (duty?.shift.direction === 'down' && duty.byDay && this.#isLost(duty)) found.push(this.#name('duty', duty, DEMAND_DOWN, ['system'], null));
      else if (duty?.shift.direction === 'up' && lost === undefined) found.push(this.#name('duty', duty, ANY, ['elementDrop', 'discharge', 'feed', 'feedFall', 'nitrogen'], null));
    }
    return found.filter((condition) => condition !== undefined);
  }

  /** What is drawn changes within the day by so much more than it did that what is made, each run by its own rest, can't be told from it. */
  #comesAndGoes(): boolean {
    const shares = this.#days.rows.slice(-WITHIN_DAYS).flatMap(({ demand }) => (demand === null ? [] : [demand.se / demand.value]));
    const now = median(shares.slice(-3)) ?? 0;
    return now > COMES_AND_GOES && now > WITHIN_TIMES * median(shares.slice(0, -3))!;
  }

  /** Demand and delivery moved together, and run time did not: the tank's gauge. */
  scaled(): Condition | undefined {
    if (this.#days.rows.at(-1)?.unit === 'relative') return undefined;
    const moved = this.#watch('delivery') ?? this.#watch('demand');
    if (moved === undefined) return undefined;
    const fromMs = moved.epoch.points[moved.shift.onsetIndex]!.startMs;
    const levels = (['demand', 'delivery', 'duty'] as const).map((name) => this.#levelSince(name, fromMs, moved.byDay));
    const [demand, delivery, duty] = levels;
    return demand === undefined || delivery === undefined || duty === undefined ? undefined : scaledGauge(demand, delivery, duty, fromMs);
  }

  /** The controller's band stands elsewhere: by its switch, or by the gauge. */
  movedBand(): Condition | undefined {
    const { band, entries } = this.#days;
    if (band === undefined) return undefined;
    const delivery = this.#levelSince('delivery', band.sinceMs, true);
    const feed = this.#levelSince('feed', band.sinceMs, true);
    return setPointChanged(band, entries, chanceOfGauge(band, this.#days.rows.at(-1)?.unit === 'relative' ? undefined : delivery, feed, this.#days.moves?.bend), this.#days)[0];
  }

  /** How a series stands since then, by days or by quarters of a day, with what the band explains in it. */
  #levelSince(name: Watched, fromMs: number, byDay: boolean): Level | undefined {
    const epoch = byDay ? this.#days.epochs.get(name) : this.#byQuarters(name);
    if (epoch === undefined) return undefined;
    const from = epoch.points.findIndex((point) => point.startMs >= fromMs);
    if (from < 0) return undefined;
    const { effect, effectSe } = presentLevel(epoch.points, epoch.baseline, from);
    return { effect: effect + explainedAt(this.#days.moves, name, epoch.points.at(-1)!.startMs), se: effectSe };
  }

  #byQuarters(name: Watched): Epoch | undefined {
    const baseline = this.#days.quarterBaselines.get(name);
    const epoch = this.#days.epochs.get(name);
    return baseline === undefined || epoch === undefined ? undefined : quarterEpoch(this.#days.rows, this.#openQuarters, epoch, baseline, this.#days.fills, this.#days.moves);
  }

  /** The shift of a series by days, or by quarters where these know it already. */
  #watch(name: Watched): Watching | undefined {
    if (!this.#watched.has(name)) this.#watched.set(name, this.#look(name));
    return this.#watched.get(name);
  }

  #look(name: Watched): Watching | undefined {
    const { epochs, byDay } = this.#days;
    const epoch = epochs.get(name);
    if (epoch === undefined) return undefined;
    const rule = ruleOf(epoch, this.#days, BY_QUARTER);
    const shift = byDay.get(name);
    if (shift !== undefined && Math.abs(shift.effect) > rule.smallest / 2) return { epoch, shift, byDay: true };
    const quarters = this.#byQuarters(name);
    if (quarters === undefined) return undefined;
    const byQuarter = findShift(quarters.points, quarters.baseline, rule).shift;
    return byQuarter && Math.abs(byQuarter.effect) > rule.smallest / 2 ? { epoch: quarters, shift: byQuarter, byDay: false } : undefined;
  }

  #name(slot: Slot, watching: Watching, candidates: readonly SignedCause[], series: readonly SignatureSeries[], amounts: Observation['amounts']): Condition {
    const { epoch, shift } = watching;
    const { stepChance, onset } = shapeOf(epoch.points, epoch.baseline, shift);
    const visit = this.#visitBefore(onset);
    const movements = series.flatMap((name) => this.#movement(name, watching));
    const seen: Observation = { movements, stepChance, afterVisit: visit !== undefined, amounts, dropPerRunHour: slot === 'delivery' ? this.#dropRate() : null };
    const { dropPerRunHour } = seen;
    const weighed = weighCauses(visit === undefined ? candidates.filter((cause) => cause !== 'bleed-left-open' && cause !== 'element-missing') : candidates, seen);
    const shown = new Map(this.#days.epochs).set(epoch.name, epoch);
    const unit = this.#days.rows.at(-1)?.unit ?? 'relative';
    const evidence = evidenceFor(weighed, { epochs: shown, unit, moved: { name: epoch.name, level: shift }, visitDay: visit === undefined ? null : dayWords(visit.startedAt, this.#days.registered.site.timeZone), stepChance, sameAmount: amounts !== null && amounts.delivery > amounts.demand / 2, dropPerRunHour });
    const leading = { says: movementSentence(epoch, unit, shift), for: weighed.causes[0]!.cause, weight: Math.round(Math.min(99, Math.abs(shift.effect) / epoch.baseline.scatter) * 10) / 10 };
    const own = evidence.find((one) => one.says === leading.says) ?? leading;
    const beside = this.#beside(epoch, epoch.points[shift.onsetIndex]!.startMs);
    return nameCause(slot, weighed, this.#days.sees, onset, [own, ...beside.map((says) => ({ says, for: own.for, weight: 0 })), ...evidence.filter((one) => one !== own)], Math.abs(shift.effect) / epoch.baseline.scatter);
  }

  /** What goes with a change and weighs for no cause: what the band took, compressors that take turns, draws in bursts. */
  #beside({ name }: Epoch, onsetMs: number): string[] {
    const { rows, moves, registered } = this.#days;
    const says = name === 'delivery' ? [movesSentence(moves, registered.site.timeZone), byTurns(rows, onsetMs)] : name === 'demand' ? [byBursts(rows, onsetMs)] : [];
    return says.filter((one) => one !== undefined);
  }

  /** How fast the drop over the elements has risen since it began to, kPa in an hour of running. */
  #dropRate(): number | null {
    const drop = this.#watch('elementDrop');
    if (drop === undefined || drop.shift.direction === 'down' || drop.shift.effect <= 0) return null;
    const sinceMs = drop.epoch.points[drop.shift.onsetIndex]!.startMs;
    const runS = this.#days.rows.reduce((sum, row) => sum + (row.startMs >= sinceMs ? row.runS : 0), 0);
    return runS < 1800 ? null : (3600 * drop.shift.effect) / runS;
  }

  #movement(name: SignatureSeries, watching: Watching): Movement[] {
    const epoch = watching.epoch.name === name ? watching.epoch : this.#days.epochs.get(name);
    if (epoch === undefined) return [];
    const from = Math.max(0, epoch.points.findIndex((point) => point.startMs >= watching.epoch.points[watching.shift.onsetIndex]!.startMs));
    const { effect, effectSe } = presentLevel(epoch.points, epoch.baseline, from);
    return [{ series: name, effect, se: effectSe, smallest: SMALLEST_CHANGE[name] }];
  }

  /** Whether nitrogen was judged of late: where more is made runs may have become too short for it. */
  #seesNitrogen(): boolean {
    return this.#days.rows.slice(-NITROGEN_DAYS).some((row) => row.nitrogen !== null);
  }

  /** Where nobody sees the nitrogen: a delivery that rises by itself is a membrane that lets more through, poorer; water from a bowl that is full does that too. */
  #letsThrough(delivery: Watching | undefined): Condition | undefined {
    if (delivery === undefined || !delivery.byDay || delivery.shift.direction !== 'up' || delivery.shift.effect < LETS_THROUGH || delivery.epoch.points.length - delivery.shift.onsetIndex < LETS_DAYS || this.#seesNitrogen() || this.#days.careful !== undefined) return undefined;
    const { onset } = shapeOf(delivery.epoch.points, delivery.epoch.baseline, delivery.shift);
    // What rose since new elements were put in, and isn't learned yet, is theirs, unless it had begun to before.
    const { epoch: { learned, points, baseline, watchFromMs } } = delivery;
    const before = median(points.filter((point) => point.startMs < watchFromMs).slice(-LETS_DAYS).map((point) => point.value)) ?? baseline.centre;
    const byElements = !learned && before - baseline.centre < LETS_THROUGH / 2;
    return !byElements && this.#visitBefore(onset) === undefined ? this.#name('delivery', delivery, ['membrane-decline', 'drain-stuck-closed'], ['delivery', 'elementDrop', 'feed'], null) : undefined;
  }

  /** Piping that stood above what it usually is, as by a regulator that crept or in warm weather, and comes down again, needs nothing meanwhile. */
  #usesSurplus(): boolean {
    const system = this.#days.epochs.get('system');
    if (system === undefined) return false;
    const mostKPa = Math.max(...system.points.slice(-SURPLUS_DAYS).map((point) => point.value));
    return mostKPa > system.baseline.centre + SURPLUS_KPA && system.points.at(-1)!.value < mostKPa - SURPLUS_KPA;
  }

  /** Demand that falls is good news unless nearly all of it goes, or a riser's share does as a visit ends that mended nothing there. */
  #isLost({ epoch, shift }: Watching): boolean {
    if (shift.effect > RISER_LOST || this.#usesSurplus()) return false;
    const { onset, stepChance } = shapeOf(epoch.points, epoch.baseline, shift);
    const visit = this.#visitBefore(onset);
    if (visit === undefined) return shift.effect < DEMAND_LOST || (this.#days.registered.generator.risers.length > 1 && shift.effect < RISER_GONE && (stepChance ?? 0) > AT_ONCE);
    if (visit.replaced.some((part) => MENDS_DEMAND.has(part))) return shift.effect < DEMAND_GONE;
    return this.#days.registered.generator.risers.length > 1 || shift.effect < DEMAND_LOST;
  }

  #visitBefore({ likelyMs }: OnsetMs): Entry | undefined {
    return this.#days.entries.findLast((entry) => {
      const at = Date.parse(entry.finishedAt ?? entry.startedAt);
      return entry.kind === 'service' && likelyMs !== null && at >= likelyMs - AFTER_VISIT_MS && at <= likelyMs + DAY_MS;
    });
  }

  /** By how much gas demand is above its baseline, and delivery above what it was in the days before demand rose: its own baseline may have been learned since. */
  #amounts(demand: Watching): Observation['amounts'] {
    const delivery = this.#days.epochs.get('delivery');
    if (delivery === undefined) return null;
    const onsetMs = demand.epoch.points[demand.shift.onsetIndex]!.startMs;
    const anewMs = restartsOf(this.#days.entries, 'delivery').findLast((restart) => restart.atMs <= onsetMs)?.atMs ?? 0;
    const before = delivery.points.filter((point) => point.startMs >= anewMs && point.endMs <= onsetMs).slice(-DAYS_BEFORE);
    // While only quarters know of it, quarters tell what is made since.
    const newest = (demand.byDay ? undefined : this.#byQuarters('delivery')) ?? delivery;
    const since = newest.points.filter((point) => point.startMs >= onsetMs).slice(-DAYS_SINCE);
    if (before.length < LEAST_BEFORE || since.length < (newest === delivery ? 1 : LEAST_QUARTERS)) return null;
    const wasLog = median(before.map((point) => point.value))!;
    const isLog = median(since.map((point) => point.value))!;
    const seLog = Math.max(0.01, Math.hypot(delivery.baseline.scatter / Math.sqrt(before.length), (1.25 * newest.baseline.scatter) / Math.sqrt(since.length)));
    const was = Math.exp(wasLog);
    return { demand: Math.exp(demand.epoch.baseline.centre) * Math.expm1(demand.shift.effect), delivery: was * Math.expm1(isLog - wasLog), deliverySe: was * seLog };
  }
}

/** Fewer days or quarters say nothing of it. */
const LEAST_BEFORE = 4;
const LEAST_QUARTERS = 4;
