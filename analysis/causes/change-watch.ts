import type { QuarterValues } from '../../shared/cycle.ts';
import type { CauseProbability } from '../../shared/finding.ts';
import { DAY_MS } from '../../shared/time.ts';
import { median } from '../change/robust.ts';
import type { DaysJudged } from './assess.ts';
import { explainedAt, movesSentence } from './band-moves.ts';
import { restartsOf } from './baseline.ts';
import { byBursts } from './by-bursts.ts';
import { byTurns } from './by-turns.ts';
import { comesAndGoes } from './comes-and-goes.ts';
import type { Condition, Slot } from './condition.ts';
import { DAYS_BEFORE, DAYS_SINCE, lostByNitrogen, poorerByLess, purerByLess } from './by-nitrogen.ts';
import type { Watched } from './day-series.ts';
import { isLost } from './demand-lost.ts';
import { type Epoch, quarterEpoch } from './epochs.ts';
import { dayWords, evidenceFor, movementSentence } from './evidence.ts';
import { BY_QUARTER, findShift, meanLevel, presentLevel, type Shift, SMALLEST_CHANGE } from './find-shift.ts';
import { chanceOfGauge, type Level, scaledGauge } from './gauge-faults.ts';
import { letsThrough } from './lets-through.ts';
import { ALL_DAY } from './limits.ts';
import { visitBefore } from './mends.ts';
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
    const delivery = comesAndGoes(this.#days.rows) ? undefined : this.#watch('delivery');
    const drop = this.#watch('elementDrop');
    const nitrogen = lostByNitrogen(this.#days, this.#watch('nitrogen'));
    const found: (Condition | undefined)[] = [];
    if (demand?.shift.direction === 'up') found.push(this.#name('demand', demand, DEMAND_UP, ['demand', 'system', 'feedRest', 'feedFall'], delivery?.shift.direction === 'down' ? null : this.#amounts(demand)));
    const starved = demand?.shift.direction === 'down' && demand.byDay && isLost(this.#days, demand);
    if (starved) found.push(this.#name('demand', demand, DEMAND_DOWN, ['demand', 'system'], null));
    if (demand?.shift.direction !== 'up' && delivery !== undefined && letsThrough(this.#days, delivery)) found.push(this.#name('delivery', delivery, ['membrane-decline', 'drain-stuck-closed'], ['delivery', 'elementDrop', 'feed'], null));
    const purer = delivery === undefined && nitrogen === undefined ? purerByLess(this.#days) : undefined;
    const poorer = delivery === undefined && nitrogen === undefined ? poorerByLess(this.#days) : undefined;
    const emptying = this.#watch('feedFall');
    // A feed side that empties slower since its drain was mended is as it should be.
    if (demand?.shift.direction !== 'up' && emptying?.shift.direction === 'up' && emptying.epoch.learned) found.push(this.#name('demand', emptying, ['check-valve-leaking', 'leak'], ['demand', 'feedRest', 'feedFall'], null));
    const airSide = this.#watch('compressorRun');
    const longer = demand === undefined && delivery === undefined && nitrogen === undefined ? this.#longerRuns() : undefined;
    const lost = [delivery, drop, nitrogen, purer, poorer, emptying, airSide, longer].find((one) => one !== undefined && (one.epoch.name === 'elementDrop' ? one.shift.direction === 'up' || delivery !== undefined : one.shift.direction === (one === purer || one === airSide || one === longer ? 'up' : 'down')));
    // Where hardly anything is drawn a day has a run or two, which say little of what is made.
    if (lost !== undefined && lost === airSide) found.push(this.#name('delivery', lost, lost.shift.effect > MOST_BY_WEAR ? AIR_LOST : AIR_SIDE, ['feedFall', 'compressorRun', 'nitrogen'], null));
    else if (lost !== undefined && !(starved && lost === delivery)) found.push(this.#name('delivery', lost, lost === poorer ? PASSES_LESS_PURE : DELIVERY, ['delivery', 'elementDrop', 'discharge', 'feed', 'feedFall', 'compressorRun', 'nitrogen'], null));
    if (!this.#isTold('demand') && !this.#isTold('delivery')) {
      const duty = this.#watch('duty');
      if (duty?.shift.direction === 'down' && duty.byDay && isLost(this.#days, duty)) found.push(this.#name('duty', duty, DEMAND_DOWN, ['system'], null));
      else if (duty?.shift.direction === 'up' && lost === undefined) found.push(this.#name('duty', duty, ANY, ['elementDrop', 'discharge', 'feed', 'feedFall', 'nitrogen'], null, { endless: runsAllDay(duty) ? ENDLESS : 0, sees: { ...this.#days.sees, split: false } }));
    }
    return found.filter((condition) => condition !== undefined);
  }

  /** Whether the last days of run time also say this: behind an air receiver a tank may have ceased to show its fillings. */
  #isTold(name: 'demand' | 'delivery'): boolean {
    const told = this.#days.epochs.get(name)?.points.at(-1);
    const ran = this.#days.epochs.get('duty')?.points.at(-1);
    if (told === undefined || ran === undefined || this.#days.registered.generator.layout === 'direct') return told !== undefined;
    return ran.startMs - told.startMs < UNTOLD_MS;
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

  /** Where a day's delivery scatters so much that it can't be told by itself: run time that rose because less is made, as far as both are known. Run time is told, and what errs in demand errs in delivery alike. */
  #longerRuns(): Watching | undefined {
    const duty = this.#watch('duty');
    const demand = this.#days.epochs.get('demand');
    const delivery = this.#days.epochs.get('delivery');
    if (duty === undefined || demand === undefined || delivery === undefined || !duty.byDay || duty.shift.direction !== 'up' || duty.epoch.baseline.scatter > delivery.baseline.scatter || this.#days.careful !== undefined) return undefined;
    const onsetMs = duty.epoch.points[duty.shift.onsetIndex]!.startMs;
    const [drawn, made] = [demand, delivery].map((epoch) => {
      const from = epoch.points.findIndex((point) => point.startMs >= onsetMs);
      return from < 0 || epoch.points.length - from < LONGER_DAYS ? undefined : meanLevel(epoch.points, epoch.baseline, from);
    });
    if (drawn === undefined || made === undefined) return undefined;
    const all = meanLevel(duty.epoch.points, duty.epoch.baseline, duty.shift.onsetIndex).effect;
    return made.effect < -LONGER_SE * made.effectSe && made.effect < -MOST_BY_LESS * all && drawn.effect < all / 3 ? duty : undefined;
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

  #name(slot: Slot, watching: Watching, candidates: readonly SignedCause[], series: readonly SignatureSeries[], amounts: Observation['amounts'], { endless = 0, sees = this.#days.sees } = {}): Condition {
    const { epoch, shift } = watching;
    const { stepChance, onset } = shapeOf(epoch.points, epoch.baseline, shift);
    const visit = visitBefore(this.#days.entries, onset);
    const movements = series.flatMap((name) => this.#movement(name, watching));
    const seen: Observation = { movements, stepChance, afterVisit: visit !== undefined, amounts, dropPerRunHour: slot === 'delivery' ? this.#dropRate() : null };
    const { dropPerRunHour } = seen;
    const weighed = weighCauses(visit === undefined ? candidates.filter((cause) => cause !== 'bleed-left-open' && cause !== 'element-missing') : candidates, seen);
    const shown = new Map(this.#days.epochs).set(epoch.name, epoch);
    const measured = { unit: this.#days.rows.at(-1)?.unit ?? 'relative', roomC: this.#days.rows.at(-1)?.roomC ?? null } as const;
    const evidence = evidenceFor(weighed, { epochs: shown, ...measured, moved: { name: epoch.name, level: shift }, visitDay: visit === undefined ? null : dayWords(visit.startedAt, this.#days.registered.site.timeZone), stepChance, sameAmount: amounts !== null && amounts.delivery > amounts.demand / 2, dropPerRunHour });
    const leading = { says: movementSentence(epoch, measured, shift), for: weighed.causes[0]!.cause, weight: Math.round(Math.min(99, Math.abs(shift.effect) / epoch.baseline.scatter) * 10) / 10 };
    const own = evidence.find((one) => one.says === leading.says) ?? leading;
    const beside = this.#beside(epoch, epoch.points[shift.onsetIndex]!.startMs);
    return nameCause(slot, { causes: withEndless(weighed.causes, endless) }, sees, onset, [own, ...beside.map((says) => ({ says, for: own.for, weight: 0 })), ...evidence.filter((one) => one !== own)], Math.abs(shift.effect) / epoch.baseline.scatter);
  }

  /** What goes with a change and weighs for no cause: what the band took, compressors that take turns, draws in bursts. */
  #beside({ name }: Epoch, onsetMs: number): string[] {
    const { rows, moves, registered } = this.#days;
    const says = name === 'delivery' ? [movesSentence(moves, registered.site.timeZone), byTurns(rows, onsetMs)] : name === 'demand' ? [byBursts(rows, onsetMs)] : [];
    return says.filter((one) => one !== undefined);
  }

  /** How fast the drop over the elements has risen since it was last near what it was, kPa in an hour of running: after a visit that changed none it is watched anew, and had risen long before. */
  #dropRate(): number | null {
    const drop = this.#watch('elementDrop');
    if (drop === undefined || drop.shift.direction === 'down' || drop.shift.effect <= 0) return null;
    const { points, baseline } = drop.epoch;
    const { effect, onsetIndex } = drop.shift;
    const near = points.findLastIndex((point) => point.value < baseline.centre + NEAR_SHARE * effect);
    const sinceMs = points[Math.min(onsetIndex, Math.max(0, near))]!.startMs;
    const runS = this.#days.rows.reduce((sum, row) => sum + (row.startMs >= sinceMs ? row.runS : 0), 0);
    return runS < 1800 ? null : (3600 * effect) / runS;
  }

  #movement(name: SignatureSeries, watching: Watching): Movement[] {
    const epoch = watching.epoch.name === name ? watching.epoch : this.#days.epochs.get(name);
    if (epoch === undefined) return [];
    const from = Math.max(0, epoch.points.findIndex((point) => point.startMs >= watching.epoch.points[watching.shift.onsetIndex]!.startMs));
    const { effect, effectSe } = presentLevel(epoch.points, epoch.baseline, from);
    return [{ series: name, effect, se: effectSe, smallest: SMALLEST_CHANGE[name] }];
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

/** Days without a word of demand and delivery, after which run time has to tell. Common practice, no source. */
const UNTOLD_MS = 5 * DAY_MS;

/** How likely a run time of all day is one that nothing stops. Common practice, no source. */
const ENDLESS = 0.4;

/** It runs all of the time by now. */
function runsAllDay({ epoch }: Watching): boolean {
  return epoch.points.at(-1)!.value > Math.log(ALL_DAY);
}

/** The causes with that of an endless run at a share of them. */
function withEndless(causes: readonly CauseProbability[], share: number): readonly CauseProbability[] {
  const all = causes.map(({ cause, probability }): CauseProbability => ({ cause, probability: probability * (1 - share) }));
  return share === 0 ? causes : [...all, { cause: 'runs-without-end' as const, probability: share }].sort((one, other) => other.probability - one.probability);
}

/** Days since run time rose, by how many of its standard errors delivery must be less over them, and what share of the rise it must explain. Common practice, no source. */
const LONGER_DAYS = 7;
const LONGER_SE = 2.5;
const MOST_BY_LESS = 0.6;
/** Share of its rise up to which a drop is near what it was. */
const NEAR_SHARE = 0.15;
/** Fewer days or quarters say nothing of it. */
const LEAST_BEFORE = 4;
const LEAST_QUARTERS = 4;
