import type { AnalysisSettings } from '../shared/analysis-settings.ts';
import type { Channel } from '../shared/channels.ts';
import type { DayRow } from '../shared/cycle.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { GeneratorReview, LeakTerms, Urgency } from '../shared/review.ts';
import type { ReadingStore } from '../shared/store/reading-store.ts';
import { DAY_MS, HOUR_MS } from '../shared/time.ts';
import type { DaysJudged } from './causes/assess.ts';
import { ruleOf } from './causes/shift-rule.ts';
import type { SeriesPoint } from './causes/day-series.ts';
import type { Epoch } from './causes/epochs.ts';
import { BY_DAY, findShift } from './causes/find-shift.ts';
import { median } from './change/robust.ts';
import type { GeneratorWatch } from './generator-watch.ts';
import { canShow, type ShownSeries } from './verify/can-show.ts';
import { leakTerms } from './verify/leak-terms.ts';
import { tracksOf } from './verify/tracks.ts';
import { measuredFall, urgency } from './verify/urgency.ts';

/** A pressure older than this is not "now". */
const FRESH_MS = HOUR_MS;
/** The piping's own fall is looked for once a day: over so many days at the first time, then over what came since. */
const FALL_DAYS = 14;
const FALL_DAYS_AGAIN = 2;
const PRESENT_DAYS = 3;
/** Days of which a change is laid over: enough to be sure, few enough to be of one season. */
const SHOWN_DAYS = 60;

export type Reviewer = {
  /** What the pages show beside findings and rank; only those that changed since they were last given. */
  review(watches: Iterable<GeneratorWatch>, tickMs: number): Promise<GeneratorReview[]>;
};

/** What follows from closed days is worked out once when a day closes; the rest at every report. */
export function startReviewer(params: { readonly readings: Pick<ReadingStore, 'byDeviceTime'>; readonly settings: AnalysisSettings }): Reviewer {
  const { energyPricePerKWh: perKWh, energyCurrency = '' } = params.settings;
  const price = perKWh === undefined ? null : { perKWh, unit: energyCurrency };
  const given = new Map<GeneratorKey, string>();
  const falls = new Map<GeneratorKey, { readonly dayMs: number; readonly kPaPerHour: number | null }>();
  const shown = new Map<GeneratorKey, { readonly of: string; readonly canShow: GeneratorReview['canShow'] }>();
  const terms = new WeakMap<DayRow, LeakTerms | null>();

  async function fallOf(watch: GeneratorWatch, tickMs: number): Promise<number | null> {
    const dayMs = Math.floor(tickMs / DAY_MS) * DAY_MS;
    const known = falls.get(watch.key);
    const channels = Object.keys(watch.fold.state.systems) as Channel[];
    if (channels.length === 0) return null;
    if (known?.dayMs === dayMs) return known.kPaPerHour;
    const tracks = tracksOf([await params.readings.byDeviceTime({ generator: watch.key, fromMs: tickMs - (known === undefined ? FALL_DAYS : FALL_DAYS_AGAIN) * DAY_MS, toMs: tickMs, channels })]);
    // The fastest riser signals first. What was seen once stays known until something newer is seen.
    const seen = channels.flatMap((channel) => measuredFall(tracks.get(channel) ?? []) ?? []);
    const kPaPerHour = seen.length > 0 ? Math.max(...seen) : (known?.kPaPerHour ?? null);
    falls.set(watch.key, { dayMs, kPaPerHour });
    return kPaPerHour;
  }

  /** Worked out anew when a baseline is, not at every day: it is thousands of tries. */
  function canShowOf(key: GeneratorKey, judged: DaysJudged | undefined): GeneratorReview['canShow'] {
    if (judged === undefined) return null;
    const of = JSON.stringify([judged.epochs.get('demand')?.baseline, judged.epochs.get('delivery')?.baseline]);
    const known = shown.get(key);
    if (known?.of === of) return known.canShow;
    const made = canShow(shownSeries(judged));
    shown.set(key, { of, canShow: made });
    return made;
  }

  function termsOf({ fold, registered }: GeneratorWatch): LeakTerms | null {
    const last = fold.history.at(-1);
    if (last === undefined) return null;
    if (!terms.has(last)) terms.set(last, leakTerms({ days: fold.history, generator: registered.generator, elevationM: registered.site.elevationM, price }));
    return terms.get(last)!;
  }

  return {
    async review(watches, tickMs) {
      const changed: GeneratorReview[] = [];
      for (const watch of watches) {
        const body = { urgency: urgencyOf(watch, await fallOf(watch, tickMs)), canShow: canShowOf(watch.key, watch.judged), leakTerms: termsOf(watch) };
        const text = JSON.stringify(body);
        if (given.get(watch.key) === text) continue;
        given.set(watch.key, text);
        changed.push({ generator: watch.key, atMs: tickMs, ...body });
      }
      return changed;
    },
  };
}

function urgencyOf({ fold, registered, openFindings }: GeneratorWatch, measuredFallKPaPerHour: number | null): Urgency {
  const good = fold.history.filter((day) => day.demand !== null && day.holdingRatio >= 0.5 && day.unit !== 'relative').slice(-PRESENT_DAYS);
  const unit = good.at(-1)?.unit;
  const value = median(good.filter((day) => day.unit === unit).map((day) => day.demand!.value));
  const fresh = (Object.entries(fold.state.systems) as [Channel, [number, number]][]).flatMap(([channel, [kPa, atMs]]) => (fold.state.frontierMs - atMs > FRESH_MS ? [] : [{ riser: registered.generator.risers.find((one) => channel === `system-pressure.${one.id}`) ?? registered.generator.risers[0], kPa }]));
  const nearest = fresh.sort((a, b) => a.kPa - (a.riser?.lowPressureKPa ?? 0) - (b.kPa - (b.riser?.lowPressureKPa ?? 0)))[0];
  return urgency({
    generator: registered.generator,
    demand: value === undefined || unit === undefined || unit === 'relative' ? null : { value, unit },
    // Whole kPa: the gauge's own flicker would make this news at every tick.
    systemKPa: nearest === undefined ? null : Math.round(nearest.kPa),
    measuredFallKPaPerHour,
    supplyShut: openFindings.some((finding) => finding.cause === 'valve-left-shut'),
  });
}

/** Demand and delivery with the rule that decides on them. */
function shownSeries(judged: DaysJudged): ShownSeries[] {
  return (['demand', 'delivery'] as const).flatMap((series) => {
    const epoch = judged.epochs.get(series);
    return epoch === undefined ? [] : [shownOf(series, epoch, judged)];
  });
}

function shownOf(series: 'demand' | 'delivery', epoch: Epoch, judged: DaysJudged): ShownSeries {
  const { points, baseline } = epoch;
  const worse = series === 'demand' ? 1 : -1;
  const rule = { ...ruleOf(epoch, judged, BY_DAY), watchFromMs: 0, learnDays: 0 };
  // Days of a shift that is there now are no days in good order.
  const shift = judged.byDay.get(series);
  const good = points.slice(0, shift?.onsetIndex ?? points.length).filter((point) => point.startMs >= baseline.fromMs).slice(-SHOWN_DAYS);
  const se = median(good.map((point) => point.se)) ?? 0;
  const centre = median(good.map((point) => point.value)) ?? baseline.centre;
  return {
    series, worse, scatter: baseline.scatter, baselineDays: baseline.count,
    residuals: good.map((point) => point.value - centre),
    found: (values) => findShift(values.map((value, index): SeriesPoint => ({ startMs: index, endMs: index + 1, value: baseline.centre + value, se })), baseline, rule).shift?.direction === (worse > 0 ? 'up' : 'down'),
  };
}
