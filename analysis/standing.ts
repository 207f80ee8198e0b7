import type { AnalysisSettings } from '../shared/analysis-settings.ts';
import type { Watched } from './causes/day-series.ts';
import type { Epoch } from './causes/epochs.ts';
import { presentLevel } from './causes/find-shift.ts';
import type { FleetLives } from './forecast/fleet-lives.ts';
import type { GeneratorWatch } from './generator-watch.ts';
import { aheadOf } from './outlook.ts';
import { dutyOver, type Standing } from './rank.ts';

/** How a generator stands at a tick, for the ranking. */
export function standingOf(watch: GeneratorWatch, tickMs: number, settings: AnalysisSettings, fleet?: FleetLives): Standing {
  const epochs = watch.judged?.epochs ?? new Map<Watched, Epoch>();
  const dutyBaseline = epochs.get('duty')?.baseline.centre;
  const slots = new Map(watch.conditions.map((condition) => [condition.slot, condition]));
  const open = watch.openFindings;
  const urgentCauses = new Set([...slots.values()].filter((condition) => condition.urgent).map((condition) => condition.cause));
  return {
    key: watch.key,
    dataState: watch.dataState(tickMs),
    dutyRatio: rounded(dutyOver(watch.fold.history)),
    baselineDutyRatio: rounded(dutyBaseline === undefined ? null : Math.exp(dutyBaseline)),
    ...splitChange(epochs),
    open,
    urgent: new Set(open.filter((finding) => urgentCauses.has(finding.cause)).map((finding) => finding.id)),
    ofCounters: watch.counterFinding?.id ?? null,
    ...aheadOf(watch.judged, settings, fleet),
    timeZone: watch.registered.site.timeZone,
  };
}

/** Run time, demand and delivery that disagree by so much (natural logarithm), and so many of their standard errors, are not split. Common practice, no source. */
const DISAGREE = 0.35;
const DISAGREE_SD = 3;

/** after/before − 1 of demand and delivery over the last three days against their baselines; null where that isn't known, or where they say another run time than there is: duty ratio = demand / delivery (design, section 6). */
export function splitChange(epochs: ReadonlyMap<Watched, Epoch>): { readonly demandChange: number | null; readonly deliveryChange: number | null } {
  const [demand, delivery, duty] = (['demand', 'delivery', 'duty'] as const).map((name) => {
    const epoch = epochs.get(name);
    return epoch === undefined || epoch.points.length === 0 ? undefined : { ...presentLevel(epoch.points, epoch.baseline, 0), fromMs: epoch.baseline.fromMs };
  });
  const change = (level: { readonly effect: number } | undefined): number | null => (level === undefined ? null : rounded(Math.expm1(level.effect)));
  const split = { demandChange: change(demand), deliveryChange: change(delivery) };
  // Baselines of other days say nothing of each other.
  if (demand === undefined || delivery === undefined || duty === undefined || demand.fromMs !== duty.fromMs || delivery.fromMs !== duty.fromMs) return split;
  const off = Math.abs(duty.effect - (demand.effect - delivery.effect));
  return off > Math.max(DISAGREE, DISAGREE_SD * Math.hypot(duty.effectSe, demand.effectSe, delivery.effectSe)) ? { demandChange: null, deliveryChange: null } : split;
}

/** Four digits behind the point: more would be noise in every report. */
function rounded(value: number | null): number | null {
  return value === null ? null : Math.round(value * 10_000) / 10_000;
}
