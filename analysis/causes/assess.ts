import type { DayRow, QuarterValues } from '../../shared/cycle.ts';
import type { AnalysisSettings } from '../../shared/analysis-settings.ts';
import { type Sees, seesOf } from '../../shared/distinguish.ts';
import type { Entry } from '../../shared/entry.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';
import type { Condition, OnsetMs, Slot } from './condition.ts';
import { channelsHeard, type Watched, WATCHED } from './day-series.ts';
import { type Epoch, epochOf, quarterEpoch } from './epochs.ts';
import { evidenceFor } from './evidence.ts';
import { findShift, presentLevel, type Shift, SMALLEST_CHANGE } from './find-shift.ts';
import { absoluteLimits } from './limits.ts';
import { nameCause } from './name-cause.ts';
import { bandShift, explainedByBand, setPointChanged } from './set-point.ts';
import { shapeOf } from './shape.ts';
import type { SignatureSeries, SignedCause } from './signatures.ts';
import { type Movement, type Observation, weighCauses } from './weigh-causes.ts';

/** What the closed days and quarters of a generator say, with what everybody knew at the time. */
export type AssessParams = { readonly rows: readonly DayRow[]; readonly openQuarters: readonly QuarterValues[]; readonly entries: readonly Entry[]; readonly registered: RegisteredGenerator; readonly settings: AnalysisSettings };
export type Assessment = { readonly conditions: readonly Condition[]; readonly epochs: ReadonlyMap<Watched, Epoch>; readonly sees: Sees; readonly learning: boolean };

const DEMAND_UP: readonly SignedCause[] = ['leak', 'bleed-left-open', 'check-valve-leaking'];
const DEMAND_DOWN: readonly SignedCause[] = ['valve-left-shut', 'supply-bypassed'];
const DELIVERY: readonly SignedCause[] = ['element-loading', 'element-missing', 'drain-stuck-open', 'drain-stuck-closed', 'compressor-side', 'membrane-decline', 'bleed-left-open'];
const ANY: readonly SignedCause[] = ['leak', 'check-valve-leaking', ...DELIVERY];
/** Demand that falls is good news unless it falls by more than this (ln; −30 %). */
const DEMAND_LOST = 0.35;
/** Onset within a day and a half of a visit's end counts as after it. */
const AFTER_VISIT_MS = 1.5 * DAY_MS;

/** Compare the present with the baselines and name what changed. A pure function of its arguments; at most 2 ms for 400 days. */
export function assess(params: AssessParams): Assessment {
  const { rows, entries, registered, settings } = params;
  const fromMs = registered.generator.commissionedAt === undefined ? 0 : Date.parse(registered.generator.commissionedAt);
  const epochs = new Map<Watched, Epoch>();
  for (const name of WATCHED) {
    const epoch = epochOf(rows, entries, name, settings.baselineDays, fromMs);
    if (epoch !== undefined && epoch.points.length > 0) epochs.set(name, epoch);
  }
  const sees = seesOf(channelsHeard(rows));
  const lastSetPointMs = Math.max(fromMs, ...entries.filter((entry) => entry.kind === 'set-point').map((entry) => Date.parse(entry.startedAt)));
  const band = bandShift(rows, lastSetPointMs);
  const watch = new ChangeWatch(params, epochs, sees, explainedByBand(band));
  const changed = watch.conditions();
  const taken = new Set<Slot>(changed.map((condition) => condition.slot));
  const limits = absoluteLimits(rows, registered, sees).filter((condition) => !taken.has(condition.slot) && !(condition.slot === 'duty' && taken.size > 0));
  return { conditions: [...changed, ...limits, ...setPointChanged(band, entries)], epochs, sees, learning: !epochs.has('duty') };
}

type Watching = { readonly epoch: Epoch; readonly shift: Shift };

class ChangeWatch {
  readonly #params: AssessParams;
  readonly #epochs: ReadonlyMap<Watched, Epoch>;
  readonly #sees: Sees;
  readonly #explained: number;

  constructor(params: AssessParams, epochs: ReadonlyMap<Watched, Epoch>, sees: Sees, explained: number) {
    this.#params = params;
    this.#epochs = epochs;
    this.#sees = sees;
    this.#explained = explained;
  }

  conditions(): Condition[] {
    const demand = this.#watch('demand');
    const delivery = this.#watch('delivery');
    const drop = this.#watch('elementDrop');
    const nitrogen = this.#watch('nitrogen');
    const found: (Condition | undefined)[] = [];
    if (demand?.shift.direction === 'up') found.push(this.#name('demand', demand, DEMAND_UP, delivery?.shift.direction === 'up' ? ['demand', 'delivery', 'system'] : ['demand', 'system'], delivery));
    else if (demand !== undefined && demand.shift.effect < -DEMAND_LOST) found.push(this.#name('demand', demand, DEMAND_DOWN, ['demand', 'system'], undefined));
    const lost = [delivery, drop, nitrogen].find((one) => one !== undefined && (one.epoch.name === 'elementDrop' ? one.shift.direction === 'up' || delivery !== undefined : one.shift.direction === 'down'));
    if (lost !== undefined) found.push(this.#name('delivery', lost, DELIVERY, ['delivery', 'elementDrop', 'discharge', 'feed', 'nitrogen'], undefined));
    if (!this.#epochs.has('demand') && !this.#epochs.has('delivery')) {
      const duty = this.#watch('duty');
      if (duty?.shift.direction === 'up' && lost === undefined) found.push(this.#name('duty', duty, ANY, ['elementDrop', 'discharge', 'feed', 'nitrogen'], undefined));
    }
    return found.filter((condition) => condition !== undefined);
  }

  /** The shift of a series by days, or by quarters where these know it already. */
  #watch(name: Watched): Watching | undefined {
    const epoch = this.#epochs.get(name);
    if (epoch === undefined) return undefined;
    const { settings, rows, openQuarters } = this.#params;
    const wanted = name === 'demand' || name === 'delivery' ? settings.smallestChange : SMALLEST_CHANGE[name];
    const smallest = wanted + (name === 'demand' || name === 'delivery' || name === 'duty' ? this.#explained : 0);
    const rule = { watchFromMs: epoch.watchFromMs, smallest, falseFindingsPerYear: settings.falseFindingsPerYear };
    const byDay = findShift(epoch.points, epoch.baseline, { ...rule, stepsPerYear: 365 });
    if (byDay !== undefined && Math.abs(byDay.effect) > smallest / 2) return { epoch, shift: byDay };
    const quarters = quarterEpoch(rows, openQuarters, epoch);
    const byQuarter = quarters && findShift(quarters.points, quarters.baseline, { ...rule, stepsPerYear: 4 * 365 });
    return quarters && byQuarter && Math.abs(byQuarter.effect) > smallest / 2 ? { epoch: quarters, shift: byQuarter } : undefined;
  }

  #name(slot: Slot, watching: Watching, candidates: readonly SignedCause[], series: readonly SignatureSeries[], other: Watching | undefined): Condition {
    const { epoch, shift } = watching;
    const { stepChance, onset } = shapeOf(epoch.points, epoch.baseline, shift);
    const visit = this.#visitBefore(onset);
    const movements = series.flatMap((name) => this.#movement(name, watching));
    const seen: Observation = { movements, stepChance, afterVisit: visit !== undefined, equalAmounts: other?.shift.direction === 'up' ? this.#equalAmounts(watching, other) : null };
    const weighed = weighCauses(visit === undefined ? candidates.filter((cause) => cause !== 'bleed-left-open' && cause !== 'element-missing') : candidates, seen);
    const shown = new Map(this.#epochs).set(epoch.name, epoch);
    const evidence = evidenceFor(weighed, { epochs: shown, unit: this.#params.rows.at(-1)?.unit ?? 'relative', onsetMs: onset.likelyMs, visitAt: visit?.finishedAt ?? visit?.startedAt ?? null });
    return nameCause(slot, weighed, this.#sees, onset, evidence, Math.abs(shift.effect) / epoch.baseline.scatter);
  }

  #movement(name: SignatureSeries, watching: Watching): Movement[] {
    const epoch = watching.epoch.name === name ? watching.epoch : this.#epochs.get(name);
    if (epoch === undefined) return [];
    const from = Math.max(0, epoch.points.findIndex((point) => point.startMs >= watching.epoch.points[watching.shift.onsetIndex]!.startMs));
    const { effect, effectSe } = presentLevel(epoch.points, epoch.baseline, from);
    return [{ series: name, effect, se: effectSe, smallest: SMALLEST_CHANGE[name] }];
  }

  #visitBefore({ earliestMs, latestMs }: OnsetMs): Entry | undefined {
    return this.#params.entries.findLast((entry) => {
      const at = Date.parse(entry.finishedAt ?? entry.startedAt);
      return entry.kind === 'service' && at >= (earliestMs ?? 0) - AFTER_VISIT_MS && at <= (latestMs ?? 0) + DAY_MS;
    });
  }

  /** Whether demand and delivery rose by like amounts of gas: within a third of the larger. */
  #equalAmounts(demand: Watching, delivery: Watching): boolean {
    const risen = ({ epoch, shift }: Watching): number => Math.exp(epoch.baseline.centre + shift.effect) - Math.exp(epoch.baseline.centre);
    const [a, b] = [risen(demand), risen(delivery)];
    return Math.abs(a - b) < Math.max(a, b) / 3;
  }
}
