import type { DayRow, QuarterValues } from '../../shared/cycle.ts';
import type { AnalysisSettings } from '../../shared/analysis-settings.ts';
import { type Sees, seesOf } from '../../shared/distinguish.ts';
import type { Entry } from '../../shared/entry.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';
import type { Condition, OnsetMs, Slot } from './condition.ts';
import { channelsHeard, type Fill, SCATTER_FLOOR, type Watched, WATCHED } from './day-series.ts';
import type { Baseline } from './baseline.ts';
import { type Epoch, epochOf, quarterBaseline, quarterEpoch } from './epochs.ts';
import { evidenceFor, movementSentence } from './evidence.ts';
import { BY_DAY, BY_QUARTER, type Cadence, findShift, presentLevel, type Shift, type ShiftRule, SMALLEST_CHANGE } from './find-shift.ts';
import { absoluteLimits } from './limits.ts';
import { nameCause } from './name-cause.ts';
import { bandShift, type BandShift, explainedByBand, setPointChanged } from './set-point.ts';
import { shapeOf } from './shape.ts';
import type { SignatureSeries, SignedCause } from './signatures.ts';
import { type Movement, type Observation, weighCauses } from './weigh-causes.ts';

/** The closed days of a generator, with what everybody knew when the last of them closed. */
export type DaysKnown = { readonly rows: readonly DayRow[]; readonly entries: readonly Entry[]; readonly registered: RegisteredGenerator; readonly settings: AnalysisSettings; /** When the piping or the tank was last filled up, ms; what follows is no measure of the generator. */ readonly fills: readonly Fill[] };

/** What follows from closed days alone; worked out once a day, or when somebody tells us something. */
export type DaysJudged = DaysKnown & {
  readonly epochs: ReadonlyMap<Watched, Epoch>;
  readonly byDay: ReadonlyMap<Watched, Shift>;
  readonly quarterBaselines: ReadonlyMap<Watched, Baseline>;
  readonly sees: Sees;
  readonly band: BandShift | undefined;
  readonly limits: readonly Condition[];
  /** No baseline has been learned yet. */
  readonly learning: boolean;
};

const DEMAND_UP: readonly SignedCause[] = ['leak', 'bleed-left-open', 'check-valve-leaking'];
const DEMAND_DOWN: readonly SignedCause[] = ['valve-left-shut', 'supply-bypassed'];
const DELIVERY: readonly SignedCause[] = ['element-loading', 'element-missing', 'drain-stuck-open', 'drain-stuck-closed', 'compressor-side', 'membrane-decline', 'bleed-left-open'];
const ANY: readonly SignedCause[] = ['leak', 'check-valve-leaking', ...DELIVERY];
/** Demand that falls is good news, unless it falls by more than this (ln): −30 % right after a visit, −60 % at any time. */
const DEMAND_LOST_AFTER_VISIT = 0.35;
const DEMAND_LOST = 0.9;
/** Onset within a day and a half of a visit's end counts as after it. */
const AFTER_VISIT_MS = 1.5 * DAY_MS;

/** Learn the baselines of closed days and look for shifts by days. A pure function; about 1 ms for 400 days. */
export function judgeDays(known: DaysKnown): DaysJudged {
  const { rows, entries, registered, settings } = known;
  const fromMs = registered.generator.commissionedAt === undefined ? 0 : Date.parse(registered.generator.commissionedAt);
  const lastSetPointMs = Math.max(fromMs, ...entries.filter((entry) => entry.kind === 'set-point').map((entry) => Date.parse(entry.startedAt)));
  const servedMs = Math.max(fromMs, ...entries.filter((entry) => entry.kind === 'service').map((entry) => Date.parse(entry.finishedAt ?? entry.startedAt)));
  const band = bandShift(rows, lastSetPointMs);
  const epochs = new Map<Watched, Epoch>();
  const byDay = new Map<Watched, Shift>();
  const quarterBaselines = new Map<Watched, Baseline>();
  for (const name of WATCHED) {
    const epoch = epochOf(rows, entries, name, settings.baselineDays, fromMs, known.fills);
    if (epoch === undefined || epoch.points.length === 0) continue;
    const { shift, baseline } = findShift(epoch.points, epoch.baseline, ruleOf(epoch, settings, band, BY_DAY));
    const learned = { ...epoch, baseline };
    epochs.set(name, learned);
    if (shift !== undefined) byDay.set(name, shift);
    const quarters = quarterBaseline(rows, learned, known.fills);
    if (quarters !== undefined) quarterBaselines.set(name, quarters);
  }
  const sees = seesOf(channelsHeard(rows));
  return { ...known, epochs, byDay, quarterBaselines, sees, band, limits: absoluteLimits(rows, registered, sees, servedMs), learning: !epochs.has('duty') };
}

function ruleOf(epoch: Epoch, settings: AnalysisSettings, band: BandShift | undefined, cadence: Cadence): ShiftRule {
  return { watchFromMs: epoch.watchFromMs, floor: SCATTER_FLOOR[epoch.name], learnDays: cadence === BY_DAY && HANGS_ON_BAND.has(epoch.name) ? LEARN_DAYS : 0, smallest: smallestOf(epoch.name, settings) + (HANGS_ON_BAND.has(epoch.name) ? explainedByBand(band) : 0), cadence, falseFindingsPerYear: settings.falseFindingsPerYear };
}

/** Demand, delivery and run time wander about a level that is learned for longer; drop, nitrogen and pressures drift from the first day on. */
const LEARN_DAYS = 60;
/** Series that a moved band changes by itself. */
const HANGS_ON_BAND: ReadonlySet<Watched> = new Set(['demand', 'delivery', 'duty']);

function smallestOf(name: Watched, settings: AnalysisSettings): number {
  return name === 'demand' || name === 'delivery' ? settings.smallestChange : SMALLEST_CHANGE[name];
}

/** What is believed now, from the closed days and the quarters since. */
export function assess(days: DaysJudged, openQuarters: readonly QuarterValues[]): Condition[] {
  const changed = new ChangeWatch(days, openQuarters).conditions();
  const taken = new Set<Slot>(changed.map((condition) => condition.slot));
  const limits = days.limits.filter((condition) => !taken.has(condition.slot) && !(condition.slot === 'duty' && taken.size > 0));
  return [...changed, ...limits, ...setPointChanged(days.band, days.entries)];
}

/** A shift with the series that shows it: days, or quarters before the days know. */
type Watching = { readonly epoch: Epoch; readonly shift: Shift; readonly byDay: boolean };

class ChangeWatch {
  readonly #days: DaysJudged;
  readonly #openQuarters: readonly QuarterValues[];

  constructor(days: DaysJudged, openQuarters: readonly QuarterValues[]) {
    this.#days = days;
    this.#openQuarters = openQuarters;
  }

  conditions(): Condition[] {
    const demand = this.#watch('demand');
    const delivery = this.#watch('delivery');
    const drop = this.#watch('elementDrop');
    const nitrogen = this.#watch('nitrogen');
    const found: (Condition | undefined)[] = [];
    if (demand?.shift.direction === 'up') found.push(this.#name('demand', demand, DEMAND_UP, ['demand', 'system'], delivery?.shift.direction === 'down' ? null : this.#amounts(demand)));
    else if (demand !== undefined && demand.byDay && demand.shift.effect < -(this.#afterVisit(demand) ? DEMAND_LOST_AFTER_VISIT : DEMAND_LOST)) found.push(this.#name('demand', demand, DEMAND_DOWN, ['demand', 'system'], null));
    const lost = [delivery, drop, nitrogen].find((one) => one !== undefined && (one.epoch.name === 'elementDrop' ? one.shift.direction === 'up' || delivery !== undefined : one.shift.direction === 'down'));
    if (lost !== undefined) found.push(this.#name('delivery', lost, DELIVERY, ['delivery', 'elementDrop', 'discharge', 'feed', 'nitrogen'], null));
    if (!this.#days.epochs.has('demand') && !this.#days.epochs.has('delivery')) {
      const duty = this.#watch('duty');
      if (duty?.shift.direction === 'up' && lost === undefined) found.push(this.#name('duty', duty, ANY, ['elementDrop', 'discharge', 'feed', 'nitrogen'], null));
    }
    return found.filter((condition) => condition !== undefined);
  }

  /** The shift of a series by days, or by quarters where these know it already. */
  #watch(name: Watched): Watching | undefined {
    const { epochs, byDay, quarterBaselines, rows, settings, band } = this.#days;
    const epoch = epochs.get(name);
    if (epoch === undefined) return undefined;
    const rule = ruleOf(epoch, settings, band, BY_QUARTER);
    const shift = byDay.get(name);
    if (shift !== undefined && Math.abs(shift.effect) > rule.smallest / 2) return { epoch, shift, byDay: true };
    const baseline = quarterBaselines.get(name);
    if (baseline === undefined) return undefined;
    const quarters = quarterEpoch(rows, this.#openQuarters, epoch, baseline, this.#days.fills);
    const byQuarter = findShift(quarters.points, baseline, rule).shift;
    return byQuarter && Math.abs(byQuarter.effect) > rule.smallest / 2 ? { epoch: quarters, shift: byQuarter, byDay: false } : undefined;
  }

  #name(slot: Slot, watching: Watching, candidates: readonly SignedCause[], series: readonly SignatureSeries[], amounts: Observation['amounts']): Condition {
    const { epoch, shift } = watching;
    const { stepChance, onset } = shapeOf(epoch.points, epoch.baseline, shift);
    const visit = this.#visitBefore(onset);
    const movements = series.flatMap((name) => this.#movement(name, watching));
    const seen: Observation = { movements, stepChance, afterVisit: visit !== undefined, amounts };
    const weighed = weighCauses(visit === undefined ? candidates.filter((cause) => cause !== 'bleed-left-open' && cause !== 'element-missing') : candidates, seen);
    const shown = new Map(this.#days.epochs).set(epoch.name, epoch);
    const unit = this.#days.rows.at(-1)?.unit ?? 'relative';
    const evidence = evidenceFor(weighed, { epochs: shown, unit, visitAt: visit?.finishedAt ?? visit?.startedAt ?? null, stepChance, sameAmount: amounts !== null && amounts.delivery > amounts.demand / 2 });
    const leading = { says: movementSentence(epoch, unit), for: weighed.causes[0]!.cause, weight: Math.round(Math.min(99, Math.abs(shift.effect) / epoch.baseline.scatter) * 10) / 10 };
    const own = evidence.find((one) => one.says === leading.says) ?? leading;
    return nameCause(slot, weighed, this.#days.sees, onset, [own, ...evidence.filter((one) => one !== own)], Math.abs(shift.effect) / epoch.baseline.scatter);
  }

  #movement(name: SignatureSeries, watching: Watching): Movement[] {
    const epoch = watching.epoch.name === name ? watching.epoch : this.#days.epochs.get(name);
    if (epoch === undefined) return [];
    const from = Math.max(0, epoch.points.findIndex((point) => point.startMs >= watching.epoch.points[watching.shift.onsetIndex]!.startMs));
    const { effect, effectSe } = presentLevel(epoch.points, epoch.baseline, from);
    return [{ series: name, effect, se: effectSe, smallest: SMALLEST_CHANGE[name] }];
  }

  #afterVisit({ epoch, shift }: Watching): boolean {
    return this.#visitBefore(shapeOf(epoch.points, epoch.baseline, shift).onset) !== undefined;
  }

  #visitBefore({ likelyMs }: OnsetMs): Entry | undefined {
    return this.#days.entries.findLast((entry) => {
      const at = Date.parse(entry.finishedAt ?? entry.startedAt);
      return entry.kind === 'service' && likelyMs !== null && at >= likelyMs - AFTER_VISIT_MS && at <= likelyMs + DAY_MS;
    });
  }

  /** By how much gas demand and delivery are above their baselines now. */
  #amounts(demand: Watching): Observation['amounts'] {
    const delivery = this.#days.epochs.get('delivery');
    if (delivery === undefined || delivery.points.length === 0) return null;
    const from = Math.max(0, delivery.points.findIndex((point) => point.startMs >= demand.epoch.points[demand.shift.onsetIndex]!.startMs));
    const { effect, effectSe } = presentLevel(delivery.points, delivery.baseline, from);
    const before = Math.exp(delivery.baseline.centre);
    return { demand: Math.exp(demand.epoch.baseline.centre) * Math.expm1(demand.shift.effect), delivery: before * Math.expm1(effect), deliverySe: before * Math.max(effectSe, 0.01) };
  }
}
