import type { DayRow } from '../../shared/cycle.ts';
import type { LinePicture, LineSeries, Mark, Shade, XY } from './line-picture.ts';

const DAY_MS = 86_400_000;

/** A single odd day, as one of a power cut, must not leave all the others open. */
const NEWEST_DAYS = 14;

/** The unit that most of the newest days with a value have; the later one where two are equal. */
function unitOfNewest(days: readonly DayRow[]): DayRow['unit'] | undefined {
  const newest = days.filter((day) => day.demand !== null || day.delivery !== null).slice(-NEWEST_DAYS);
  const count = (unit: DayRow['unit']): number => newest.filter((day) => day.unit === unit).length;
  return newest.map((day) => day.unit).reduce<DayRow['unit'] | undefined>((best, unit) => (best === undefined || count(unit) >= count(best) ? unit : best), undefined);
}

type Pick = (day: DayRow) => number | null;

/** A line over days, each at the middle of its day; a day without a value breaks the line. */
export function dayPoints(days: readonly DayRow[], pick: Pick): XY[] {
  const points: XY[] = [];
  let lastEndMs: number | undefined;
  for (const day of days) {
    if (lastEndMs !== undefined && day.startMs - lastEndMs > DAY_MS / 2) points.push({ x: (lastEndMs + day.startMs) / 2, y: Number.NaN });
    points.push({ x: (day.startMs + day.endMs) / 2, y: pick(day) ?? Number.NaN });
    lastEndMs = day.endMs;
  }
  return points;
}

function line(label: string, shade: Shade, days: readonly DayRow[], pick: Pick): LineSeries {
  return { label, shade, stepped: false, points: dayPoints(days, pick) };
}

/**
 * The charts of a generator over days: duty ratio, demand and delivery, drop over the elements, nitrogen, pressures.
 * A chart whose channels were never sent is left out rather than drawn empty. `demand` and `delivery` stand in one chart
 * only where they have the same unit and size; relative numbers are drawn apart, since only their own course means something.
 */
export function daysCharts(days: readonly DayRow[], marks: readonly Mark[]): LinePicture[] {
  const first = days[0];
  const last = days.at(-1);
  if (first === undefined || last === undefined) return [];
  const frame = { fromMs: first.startMs, toMs: last.endMs, marks };
  // Days in another unit than that of the newest ones can't be compared with them and are left open.
  const unit = unitOfNewest(days) ?? last.unit;
  const inUnit = (pick: (day: DayRow) => number | undefined): Pick => (day) => (day.unit === unit ? (pick(day) ?? null) : null);
  const unitWords = unit === 'relative' ? 'relative, only its own course counts' : unit;
  const pictures: LinePicture[] = [
    { ...frame, id: 'duty-ratio', title: 'Duty ratio', unit: '%', leastSpan: 5, startAtZero: true, series: [line('duty ratio', 'strong', days, (day) => (day.dutyRatio === null ? null : day.dutyRatio * 100))] },
    { ...frame, id: 'demand', title: 'Demand: drawn from the tank', unit: unitWords, leastSpan: 1e-6, startAtZero: true, series: [line('demand', 'strong', days, inUnit((day) => day.demand?.value))] },
    { ...frame, id: 'delivery', title: 'Delivery: made while running', unit: unitWords, leastSpan: 1e-6, startAtZero: true, series: [line('delivery', 'strong', days, inUnit((day) => day.delivery?.value))] },
    { ...frame, id: 'element-drop', title: 'Pressure drop over the elements, while running', unit: 'kPa', leastSpan: 10, startAtZero: true, series: [line('drop', 'strong', days, (day) => day.elementDropKPa?.value ?? null)] },
    { ...frame, id: 'nitrogen', title: 'Nitrogen', unit: '%', leastSpan: 1, startAtZero: false, series: [line('nitrogen', 'strong', days, (day) => (day.nitrogen === null ? null : day.nitrogen.value * 100))] },
    {
      ...frame,
      id: 'pressures',
      title: 'Pressures (gauge)',
      unit: 'kPa',
      leastSpan: 20,
      startAtZero: false,
      series: [
        line('before the elements', 'strong', days, (day) => day.dischargeKPa?.value ?? null),
        line('after the elements', 'soft', days, (day) => day.feedKPa?.value ?? null),
        line('piping', 'second', days, (day) => day.systemKPa?.value ?? null),
        line('tank at stop', 'third', days, (day) => day.cutOutKPa),
        line('tank at start', 'third', days, (day) => day.cutInKPa),
      ],
    },
  ];
  return pictures.map((picture) => ({ ...picture, series: picture.series.filter((series) => series.points.some((point) => !Number.isNaN(point.y))) })).filter((picture) => picture.series.length > 0);
}
