import type { DayRow } from '../../shared/cycle.ts';
import type { ReplayedFinding, ReplayedGenerator } from '../../shared/world-replay.ts';
import { daysCharts } from './days-chart.ts';
import type { LinePicture, LineSeries, XY } from './line-picture.ts';
import { escapeMarkup } from './number-words.ts';
import { replayLineSays, replayLineSvg } from './replay-line-svg.ts';
import { faultOutcomeWords, faultWords } from './replay-words.ts';
import { largeRestBandSvg } from './rest-band-svg.ts';
import { wallTime } from './site-time.ts';
import { PANEL_PX, panelMarkup, type Panel } from './world-panel-svg.ts';

/*
 * One generator of an invented world, whole: what was true, what was found, what the analysis saw of it day by day, and what
 * the plant's own book says. For looking at what is found late, or not at all.
 */

/** A plant's own days, from the simulator: share of the day run, NL/min drawn and made, share of nitrogen; null where there was none. */
export type PlantDays = { readonly dutyRatio: readonly number[]; readonly demandNLPerMin: readonly number[]; readonly deliveryNLPerMin: readonly (number | null)[]; readonly nitrogen: readonly (number | null)[] };
export type PicturedWorld = {
  /** `seed 140003` and what else tells which world it is. */
  readonly world: string;
  readonly one: ReplayedGenerator;
  readonly reportEveryS: number;
  readonly days: readonly DayRow[];
  /** First midnight of the plant's days (UTC), and its days as they were, and without its faults; absent where it had none. */
  readonly startMs: number;
  readonly was: PlantDays;
  readonly without?: PlantDays;
};

const WIDTH_PX = 900;
const HEAD_PX = 46;
const LINE_PX = 16;
const BAND_PX = 130;
const DAY_MS = 86_400_000;
/** Nitrogen that isn't sent is drawn all the same where a fault took so much of it. */
const TELLING_NITROGEN = 0.002;
const FOUND: Readonly<Record<ReplayedFinding['outcome'], string>> = { right: '#005a8e', family: '#005a8e', unjudged: '#005a8e', excused: '#858b91', late: '#858b91', false: '#b34700' };

/** Panels of what was seen, with what was true beside it. */
export function worldPanels({ days, startMs, was, without }: PicturedWorld): LinePicture[] {
  const line = (label: string, shade: 'soft' | 'second', values: readonly (number | null)[], times = 1): LineSeries => ({ label, shade, stepped: false, points: values.map((value, index): XY => ({ x: startMs + (index + 0.5) * DAY_MS, y: value === null ? Number.NaN : value * times })) });
  const pair = (pick: (plant: PlantDays) => readonly (number | null)[], times = 1): LineSeries[] => [line('truly', 'soft', pick(was), times), ...(without === undefined ? [] : [line('without its faults', 'second', pick(without), times)])];
  const panels = daysCharts(days, []).map((picture): LinePicture => {
    const seen = picture.series.map((series) => (picture.series.length === 1 ? { ...series, label: 'as seen' } : series));
    if (picture.id === 'duty-ratio') return { ...picture, title: 'Duty ratio', series: [...seen, ...(without === undefined ? [] : [line('without its faults', 'second', without.dutyRatio, 100)])] };
    if (picture.id === 'nitrogen') return { ...picture, series: [...seen, ...pair((plant) => plant.nitrogen, 100)] };
    if (picture.unit !== 'NL/min') return { ...picture, series: seen, startAtZero: false, leastSpan: Math.max(picture.leastSpan, 1e-6) };
    return { ...picture, startAtZero: picture.id === 'demand', leastSpan: 1, series: [...seen, ...pair((plant) => (picture.id === 'demand' ? plant.demandNLPerMin : plant.deliveryNLPerMin))] };
  });
  const frame = panels[0];
  if (frame === undefined || panels.some((picture) => picture.id === 'nitrogen') || !nitrogenTells(was, without)) return panels;
  return [...panels, { ...frame, id: 'nitrogen', title: 'Nitrogen, which isn’t sent', unit: '%', leastSpan: 1, startAtZero: false, series: pair((plant) => plant.nitrogen, 100) }];
}

function nitrogenTells(was: PlantDays, without: PlantDays | undefined): boolean {
  return was.nitrogen.some((value, day) => {
    const other = without?.nitrogen[day];
    return value !== null && typeof other === 'number' && Math.abs(value - other) >= TELLING_NITROGEN;
  });
}

/** The picture, complete: it needs nothing else to be opened alone. */
export function worldPictureSvg(pictured: PicturedWorld): string {
  const { one, days } = pictured;
  const [fromMs, toMs] = [days[0]?.startMs ?? pictured.startMs, days.at(-1)?.endMs ?? pictured.startMs + DAY_MS];
  const panel: Panel = {
    fromMs, toMs,
    bands: one.faults.map((fault) => ({ fromMs: Date.parse(fault.onset), toMs: fault.end === null ? toMs : Date.parse(fault.end) })),
    findings: one.findings.map((finding) => ({ atMs: Date.parse(finding.openedAt), colour: FOUND[finding.outcome] })),
    visitMs: one.visits.map((at) => Date.parse(at)),
  };
  const lanes = replayLineSvg(one, WIDTH_PX);
  const became = one.faults.length === 0 ? ['Nothing was wrong.'] : one.faults.map((fault) => `True: ${faultWords(fault)}: ${faultOutcomeWords(fault)}.`);
  const headPx = HEAD_PX + LINE_PX * became.length;
  let topPx = headPx + heightOf(lanes) + 10;
  let inner = became.map((says, index) => words(62, HEAD_PX + 8 + LINE_PX * index, says)).join('') + placed(lanes, headPx);
  for (const picture of worldPanels(pictured)) {
    inner += panelMarkup(picture, panel, topPx, WIDTH_PX);
    topPx += PANEL_PX;
  }
  const known = one.days.some((day) => day.runS !== null);
  inner += words(62, topPx + 14, known ? 'Mean run (dark) and mean rest after it' : 'Run and rest are not known here: it sends no run state', 600);
  inner += placed(untitled(largeRestBandSvg(one.days, { widthPx: WIDTH_PX, heightPx: BAND_PX }, one.visits.map((at) => wallTime(Date.parse(at), one.zone).slice(0, 10)))), topPx + 16);
  topPx += 16 + BAND_PX + 16;
  inner += words(62, topPx, 'Grey: while something was truly wrong. Dotted line across: a visit.');
  inner += words(62, topPx + LINE_PX, 'Solid line across: a finding opened (blue: right, orange: false, grey: excused by what happened, or late).');
  inner += words(62, topPx + 2 * LINE_PX, 'Days far off the scale are drawn at its edge. Everything here is simulated.');
  const heightPx = topPx + 2 * LINE_PX + 10;
  const every = pictured.reportEveryS < 3600 ? `${Math.round(pictured.reportEveryS / 60)} min` : `${Math.round(pictured.reportEveryS / 3600)} h`;
  const head = words(62, 20, `Simulated: ${one.site} / ${one.generator} of ${pictured.world}`, 600, 15) + words(62, 38, `Reports every ${every}: ${one.channels.length <= 6 ? one.channels.join(', ') : `${one.channels.length} channels`}`);
  return `<svg class="world-picture" role="img" aria-label="${escapeMarkup(`Simulated: ${one.site} / ${one.generator} of ${pictured.world}. ${replayLineSays(one)}`)}" width="${WIDTH_PX}" height="${heightPx}" viewBox="0 0 ${WIDTH_PX} ${heightPx}" font-family="system-ui, 'DejaVu Sans', sans-serif" xmlns="http://www.w3.org/2000/svg"><rect width="${WIDTH_PX}" height="${heightPx}" fill="#ffffff"/>${head}${inner}</svg>\n`;
}

function words(xPx: number, yPx: number, says: string, weight = 400, sizePx = 12): string {
  return `<text font-size="${sizePx}" font-weight="${weight}" fill="#22272b" x="${xPx}" y="${yPx}">${escapeMarkup(says)}</text>`;
}

/** A whole picture as a part of another one, further down. */
function placed(svg: string, topPx: number): string {
  return svg.replace('<svg ', `<svg y="${topPx}" `);
}

function heightOf(svg: string): number {
  return Number(/ height="(\d+)"/.exec(svg)?.[1] ?? 0);
}

/** Without the words on each day: they are for a pointer, and half of the bytes. */
function untitled(svg: string): string {
  return svg.replace(/<rect class="band-day"[^>]*><title>[^<]*<\/title><\/rect>/g, '');
}
