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
    demandChange: changeOf(epochs.get('demand')),
    deliveryChange: changeOf(epochs.get('delivery')),
    open,
    urgent: new Set(open.filter((finding) => urgentCauses.has(finding.cause)).map((finding) => finding.id)),
    ofCounters: watch.counterFinding?.id ?? null,
    ...aheadOf(watch.judged, settings, fleet),
    timeZone: watch.registered.site.timeZone,
  };
}

/** after/before − 1 of the last three days against the baseline. */
function changeOf(epoch: Epoch | undefined): number | null {
  return epoch === undefined || epoch.points.length === 0 ? null : rounded(Math.expm1(presentLevel(epoch.points, epoch.baseline, 0).effect));
}

/** Four digits behind the point: more would be noise in every report. */
function rounded(value: number | null): number | null {
  return value === null ? null : Math.round(value * 10_000) / 10_000;
}
