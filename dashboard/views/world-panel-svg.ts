import type { LinePicture, LineSeries, Shade } from './line-picture.ts';
import { escapeMarkup } from './number-words.ts';

/*
 * One watched series of an invented world on the axis of the rest band that stands below it: as it was seen, as it truly was,
 * and as it would have been without its faults. Bands: while something was truly wrong. Lines across: findings and visits.
 */

/** As the large rest band has them, so that all share one axis. */
export const PANEL_LEFT_PX = 62;
export const PANEL_RIGHT_PX = 14;
const TITLE_PX = 18;
const PLOT_PX = 72;
export const PANEL_PX = TITLE_PX + PLOT_PX + 12;
/** Width of a letter of 12 px, on the wide side. */
const LETTER_PX = 6.8;
/** Days beyond these shares of all values are drawn at the edge, so that one odd day doesn't flatten the others. */
const ODD = 0.01;

export type Panel = { readonly fromMs: number; readonly toMs: number; readonly bands: readonly { readonly fromMs: number; readonly toMs: number }[]; readonly findings: readonly { readonly atMs: number; readonly colour: string }[]; readonly visitMs: readonly number[] };

const STROKES: Readonly<Record<Shade, { readonly colour: string; readonly dash: string; readonly width: number }>> = {
  strong: { colour: '#22272b', dash: '', width: 1.5 },
  soft: { colour: '#555b61', dash: '5 3', width: 1.2 },
  second: { colour: '#005a8e', dash: '2 2', width: 1.5 },
  third: { colour: '#9c4f7c', dash: '8 3 2 3', width: 1.2 },
};
const r = (value: number): string => String(Math.round(value * 10) / 10);

/** The panel as markup that stands at `topPx` of a picture of that width. */
export function panelMarkup(picture: LinePicture, panel: Panel, topPx: number, widthPx: number): string {
  const [leftPx, rightPx, plotTopPx] = [PANEL_LEFT_PX, widthPx - PANEL_RIGHT_PX, topPx + TITLE_PX];
  const basePx = plotTopPx + PLOT_PX;
  const { min, max } = usualSpan(picture);
  const x = (ms: number): number => leftPx + (Math.min(1, Math.max(0, (ms - panel.fromMs) / (panel.toMs - panel.fromMs)))) * (rightPx - leftPx);
  const y = (value: number): number => basePx - ((Math.min(max, Math.max(min, value)) - min) / (max - min)) * PLOT_PX;
  const bands = panel.bands.map((band) => `<rect class="panel-truth" fill="#3b4248" fill-opacity="0.09" x="${r(x(band.fromMs))}" y="${r(plotTopPx)}" width="${r(Math.max(2, x(band.toMs) - x(band.fromMs)))}" height="${PLOT_PX}"/>`);
  const grid = roundTicks(min, max).map(({ value, says }) => `<path stroke="#d9dcdf" d="M${leftPx} ${r(y(value))}H${r(rightPx)}"/><text fill="#555b61" font-size="12" text-anchor="end" x="${leftPx - 6}" y="${r(y(value) + 4)}">${says}</text>`);
  const visits = panel.visitMs.map((ms) => `M${r(x(ms))} ${r(plotTopPx)}V${r(basePx)}`).join('');
  const found = panel.findings.map(({ atMs, colour }) => `<path class="panel-finding" stroke="${colour}" stroke-width="2" d="M${r(x(atMs))} ${r(plotTopPx)}V${r(basePx)}"/>`);
  const lines = picture.series.map((series) => `<path class="line-${series.shade}" fill="none" stroke="${STROKES[series.shade].colour}" stroke-width="${STROKES[series.shade].width}" stroke-dasharray="${STROKES[series.shade].dash}" d="${pathOf(series, x, y)}"/>`);
  return `<g>${bands.join('')}${grid.join('')}${visits === '' ? '' : `<path stroke="#005a8e" stroke-dasharray="2 3" d="${visits}"/>`}${found.join('')}${lines.join('')}<text font-size="12" font-weight="600" fill="#22272b" x="${leftPx}" y="${r(topPx + 12)}">${escapeMarkup(`${picture.title}, ${picture.unit}`)}</text>${legend(picture, topPx, rightPx)}</g>`;
}

/** What is which line, from the right; a line that stands alone needs no name. */
function legend({ series }: LinePicture, topPx: number, rightPx: number): string {
  if (series.length < 2) return '';
  let endPx = rightPx;
  return series.toReversed().map(({ label, shade }) => {
    const fromPx = endPx - label.length * LETTER_PX;
    const key = `<path stroke="${STROKES[shade].colour}" stroke-width="${STROKES[shade].width}" stroke-dasharray="${STROKES[shade].dash}" d="M${r(fromPx - 30)} ${r(topPx + 8)}h24"/>`;
    const words = `<text font-size="12" fill="#22272b" x="${r(fromPx)}" y="${r(topPx + 12)}">${escapeMarkup(label)}</text>`;
    endPx = fromPx - 44;
    return key + words;
  }).join('');
}

/** Bounds of what is drawn but for odd days, and a little air; never narrower than the picture's least span. */
export function usualSpan(picture: LinePicture): { min: number; max: number } {
  const values = picture.series.flatMap((series) => series.points.map((point) => point.y)).filter((value) => !Number.isNaN(value)).sort((a, b) => a - b);
  const low = values[Math.floor(values.length * ODD)] ?? 0;
  const high = values[Math.min(values.length - 1, Math.ceil(values.length * (1 - ODD)))] ?? picture.leastSpan;
  if (picture.startAtZero && low >= 0) return { min: 0, max: Math.max(picture.leastSpan, high * 1.06) };
  const span = Math.max(picture.leastSpan, (high - low) * 1.12, 1e-6);
  return { min: (low + high - span) / 2, max: (low + high + span) / 2 };
}

function pathOf({ points }: LineSeries, x: (ms: number) => number, y: (value: number) => number): string {
  let path = '';
  let pen = false;
  for (const point of points) {
    if (Number.isNaN(point.y)) {
      pen = false;
      continue;
    }
    // A value that stands alone is shown as a short dash rather than as nothing.
    path += `${pen ? 'L' : 'M'}${r(x(point.x))} ${r(y(point.y))}${pen ? '' : 'h.1'}`;
    pen = true;
  }
  return path;
}

/** Three to five round numbers within [min, max], as an axis names them. */
export function roundTicks(min: number, max: number): { readonly value: number; readonly says: string }[] {
  const power = 10 ** Math.floor(Math.log10(max - min));
  const step = [2, 1, 0.5, 0.2].map((part) => part * power).find((one) => Math.floor(max / one) - Math.ceil(min / one) >= 2) ?? 0.1 * power;
  const first = Math.ceil(min / step - 1e-9);
  const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  return Array.from({ length: Math.floor(max / step + 1e-9) - first + 1 }, (_, index) => ({ value: (first + index) * step, says: ((first + index) * step).toFixed(digits).replace('-', '−') }));
}
