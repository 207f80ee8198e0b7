import type { BandDay } from '../../shared/api.ts';
import { durationWords, escapeMarkup } from './number-words.ts';
import { dayNameWords } from './site-time.ts';

/*
 * The rest band: each day a column, its mean run (dark, below) and its mean rest (light, above) to one scale of minutes.
 * Loading elements make the dark part grow, a leak makes the light part shrink; both show before a number is read.
 */

export type BandColumn = {
  readonly day: string;
  readonly xPx: number;
  readonly widthPx: number;
  /** Heights stand on the base line; both 0 where there is no data. */
  readonly runPx: number;
  readonly restPx: number;
  readonly hasData: boolean;
  /** The cycle is longer than the scale; the column is cut at the top and says so. */
  readonly beyondScale: boolean;
};

export type RestBandShapes = { readonly widthPx: number; readonly heightPx: number; readonly topS: number; readonly columns: readonly BandColumn[]; readonly visitXPx: readonly number[] };
export type RestBandSize = { readonly widthPx: number; readonly heightPx: number };

const DAY_MS = 86_400_000;
const NICE_MINUTES = [2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 70, 80, 90, 100, 120, 150, 180, 240, 300, 360, 480, 600, 720, 960, 1200, 1440, 1920, 2880, 4320, 5760, 7200, 10080, 14400, 20160, 43200];

/**
 * Top of the scale, s: 1.15 × the cycle that 80 % of the days stay below, rounded up. Days far beyond it (a rest over
 * a holiday) are cut rather than letting one of them flatten all others.
 */
export function restBandTopS(days: readonly BandDay[]): number {
  const cycles = days.flatMap((day) => (day.runS === null ? [] : [day.runS + day.restS])).sort((a, b) => a - b);
  const usualS = cycles[Math.min(cycles.length - 1, Math.floor(cycles.length * 0.8))] ?? 3600;
  const minutes = (usualS * 1.15) / 60;
  return (NICE_MINUTES.find((nice) => nice >= minutes) ?? Math.ceil(minutes / 1440) * 1440) * 60;
}

function dayNumber(day: string): number {
  return Math.round(Date.parse(`${day}T00:00:00Z`) / DAY_MS);
}

/** Columns to scale. A day stands where the calendar puts it, so a day that is left out stays open. */
export function restBandShapes(days: readonly BandDay[], size: RestBandSize, visitDays: readonly string[] = []): RestBandShapes {
  const topS = restBandTopS(days);
  const first = days[0] === undefined ? 0 : dayNumber(days[0].day);
  const last = days.length === 0 ? 0 : dayNumber(days.at(-1)!.day);
  const pitchPx = size.widthPx / Math.max(1, last - first + 1);
  const gapPx = pitchPx > 3 ? Math.min(2, pitchPx * 0.22) : 0;
  const xPxOf = (day: string): number => (dayNumber(day) - first) * pitchPx;
  const columns = days.map((day): BandColumn => {
    const place = { day: day.day, xPx: xPxOf(day.day), widthPx: pitchPx - gapPx };
    if (day.runS === null) return { ...place, runPx: 0, restPx: 0, hasData: false, beyondScale: false };
    const runPx = Math.min(1, day.runS / topS) * size.heightPx;
    const cyclePx = Math.min(1, (day.runS + day.restS) / topS) * size.heightPx;
    return { ...place, runPx, restPx: cyclePx - runPx, hasData: true, beyondScale: day.runS + day.restS > topS };
  });
  const visitXPx = visitDays.filter((day) => dayNumber(day) >= first && dayNumber(day) <= last).map((day) => xPxOf(day) + (pitchPx - gapPx) / 2);
  return { ...size, topS, columns, visitXPx };
}

const r = (value: number): string => String(Math.round(value * 100) / 100);
const box = (xPx: number, yPx: number, widthPx: number, heightPx: number): string => (heightPx <= 0 ? '' : `M${r(xPx)} ${r(yPx)}h${r(widthPx)}v${r(heightPx)}h${r(-widthPx)}z`);

function meanOf(days: readonly BandDay[], pick: (day: BandDay) => number | null): number | null {
  const values = days.flatMap((day) => pick(day) ?? []);
  return values.length === 0 ? null : values.reduce((sum, value) => sum + value, 0) / values.length;
}

function stretchWords(days: readonly BandDay[]): string | undefined {
  const runS = meanOf(days, (day) => day.runS);
  const restS = meanOf(days, (day) => day.restS);
  return runS === null || restS === null ? undefined : `runs ${durationWords(runS)}, rests ${durationWords(restS)}`;
}

/** The picture in words, for those who can't see it and as its name: first week, last week, days without data. */
export function restBandSays(days: readonly BandDay[]): string {
  const open = days.filter((day) => day.runS === null).length;
  const early = stretchWords(days.slice(0, 7));
  const late = stretchWords(days.slice(-7));
  if (early === undefined && late === undefined) return `Rest band of ${days.length} days: no data in the first and the last week`;
  return `Rest band of ${days.length} days. First week: ${early ?? 'no data'}. Last week: ${late ?? 'no data'}.${open > 0 ? ` ${open} ${open === 1 ? 'day' : 'days'} without data.` : ''}`;
}

/** The columns as markup at an offset: two paths however many days, so that a list of 200 bands stays light. */
function columnsMarkup(shapes: RestBandShapes, leftPx: number, topPx: number): string {
  const basePx = topPx + shapes.heightPx;
  let run = '';
  let rest = '';
  let cut = '';
  for (const column of shapes.columns) {
    if (!column.hasData) continue;
    run += box(leftPx + column.xPx, basePx - column.runPx, column.widthPx, column.runPx);
    rest += box(leftPx + column.xPx, basePx - column.runPx - column.restPx, column.widthPx, column.restPx);
    if (column.beyondScale) cut += `M${r(leftPx + column.xPx)} ${r(topPx + 4)}l${r(column.widthPx)} -2`;
  }
  const visits = shapes.visitXPx.map((xPx) => `M${r(leftPx + xPx)} ${r(basePx + 1)}v5`).join('');
  return (
    `<path class="band-rest" fill="#c9ced3" d="${rest}"/><path class="band-run" fill="#3b4248" d="${run}"/>` +
    (cut === '' ? '' : `<path class="band-cut" stroke="#ffffff" stroke-width="1.5" fill="none" d="${cut}"/>`) +
    `<path class="band-base" stroke="#3b4248" stroke-width="1" d="M${r(leftPx)} ${r(basePx + 0.5)}h${r(shapes.widthPx)}"/>` +
    (visits === '' ? '' : `<path class="band-visit" stroke="#005a8e" stroke-width="2" d="${visits}"/>`)
  );
}

/** The small band of a list: no axis; the words are its name. It may be drawn wider than it is: heights keep their scale. */
export function smallRestBandSvg(days: readonly BandDay[], size: RestBandSize): string {
  const shapes = restBandShapes(days, { widthPx: size.widthPx, heightPx: size.heightPx - 2 });
  return `<svg class="band" role="img" aria-label="${escapeMarkup(restBandSays(days))}" width="${size.widthPx}" height="${size.heightPx}" viewBox="0 0 ${size.widthPx} ${size.heightPx}" preserveAspectRatio="none" xmlns="http://www.w3.org/2000/svg">${columnsMarkup(shapes, 0, 0)}</svg>`;
}

/** A point of the axis: where, and what stands there. */
function axisMarkup(shapes: RestBandShapes, leftPx: number, topPx: number): string {
  const lines = [0.25, 0.5, 0.75, 1].map((share) => {
    const yPx = topPx + shapes.heightPx * (1 - share);
    const label = share === 0.5 || share === 1 ? `<text class="axis" font-size="12" fill="#555b61" text-anchor="end" x="${leftPx - 6}" y="${r(yPx + 4)}">${escapeMarkup(durationWords(shapes.topS * share))}</text>` : '';
    return `<path class="grid" stroke="#dfe2e5" stroke-width="1" d="M${r(leftPx)} ${r(yPx)}h${r(shapes.widthPx)}"/>${label}`;
  });
  const last = shapes.columns.at(-1);
  const first = shapes.columns[0];
  if (first === undefined || last === undefined) return lines.join('');
  // Dates back from the newest day, on the calendar, whether that day has data or not.
  const span = dayNumber(last.day) - dayNumber(first.day) + 1;
  const everyDays = Math.max(1, Math.ceil(span / Math.max(2, Math.floor(shapes.widthPx / 76))));
  const dates: string[] = [];
  for (let day = dayNumber(last.day); day >= dayNumber(first.day); day -= everyDays) {
    const middlePx = leftPx + ((day - dayNumber(first.day) + 0.5) / span) * shapes.widthPx;
    dates.push(`<text class="axis" font-size="12" fill="#555b61" text-anchor="middle" x="${r(Math.min(leftPx + shapes.widthPx - 12, Math.max(leftPx + 12, middlePx)))}" y="${r(topPx + shapes.heightPx + 20)}">${escapeMarkup(dayNameWords(new Date(day * DAY_MS).toISOString().slice(0, 10)))}</text>`);
  }
  return `${lines.join('')}<text class="axis" font-size="12" fill="#555b61" text-anchor="end" x="${leftPx - 6}" y="${r(topPx + shapes.heightPx + 4)}">0</text>${dates.join('')}`;
}

/** The large band of a generator's page: axis of time of cycle, dates, ticks for visits, and a title on each day. */
export function largeRestBandSvg(days: readonly BandDay[], size: RestBandSize, visitDays: readonly string[] = []): string {
  const leftPx = 62;
  const topPx = 8;
  const shapes = restBandShapes(days, { widthPx: size.widthPx - leftPx - 14, heightPx: size.heightPx - topPx - 28 }, visitDays);
  const titles = shapes.columns.map((column, index) => {
    const day = days[index]!;
    const says = day.runS === null ? 'no data' : `run ${durationWords(day.runS)}, rest ${durationWords(day.restS)}${column.beyondScale ? ' (longer than the scale)' : ''}`;
    return `<rect class="band-day" fill="none" pointer-events="all" x="${r(leftPx + column.xPx)}" y="${topPx}" width="${r(column.widthPx)}" height="${shapes.heightPx}"><title>${escapeMarkup(`${dayNameWords(column.day)}: ${says}`)}</title></rect>`;
  });
  return `<svg class="band band-large" role="img" aria-label="${escapeMarkup(restBandSays(days))}" width="${size.widthPx}" height="${size.heightPx}" viewBox="0 0 ${size.widthPx} ${size.heightPx}" xmlns="http://www.w3.org/2000/svg">${axisMarkup(shapes, leftPx, topPx)}${columnsMarkup(shapes, leftPx, topPx)}${titles.join('')}</svg>`;
}
