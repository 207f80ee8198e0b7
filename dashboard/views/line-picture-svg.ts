import { type LinePicture, pictureSays, verticalSpan } from './line-picture.ts';
import { escapeMarkup } from './number-words.ts';
import { clockWords, dateWords } from './site-time.ts';

/** A chart that needs no script: for paper, and for a phone without signal. Shades are told apart by dashes too. */
const STROKES = { strong: { colour: '#22272b', dash: '' }, soft: { colour: '#555b61', dash: '5 3' }, second: { colour: '#005a8e', dash: '2 2' }, third: { colour: '#9c4f7c', dash: '8 3 2 3' } } as const;
const DAY_MS = 86_400_000;

const r = (value: number): string => String(Math.round(value * 10) / 10);

/** The picture as markup of that size, its numbers in words as its name. Gaps are left open, onsets and visits are marked. */
export function linePictureSvg(picture: LinePicture, size: { readonly widthPx: number; readonly heightPx: number }, zone: string): string {
  const [leftPx, rightPx, topPx, basePx] = [46, size.widthPx - 8, 8, size.heightPx - 22];
  const { min, max } = verticalSpan(picture);
  const x = (ms: number): number => leftPx + ((ms - picture.fromMs) / Math.max(1, picture.toMs - picture.fromMs)) * (rightPx - leftPx);
  const y = (value: number): number => basePx - ((value - min) / Math.max(1e-9, max - min)) * (basePx - topPx);
  const lines = picture.series.map((series) => `<path class="line-${series.shade}" fill="none" stroke="${STROKES[series.shade].colour}" stroke-width="1.5" stroke-dasharray="${STROKES[series.shade].dash}" d="${pathOf(series.points, x, y)}"/>`);
  const marks = picture.marks.map((mark) => {
    if (mark.kind === 'onset') return `<rect class="mark-onset" fill="#b34700" fill-opacity="0.16" x="${r(x(Math.max(mark.fromMs, picture.fromMs)))}" y="${topPx}" width="${r(Math.max(2, x(Math.min(mark.toMs, picture.toMs)) - x(Math.max(mark.fromMs, picture.fromMs))))}" height="${basePx - topPx}"/>`;
    if (mark.kind !== 'visit' || mark.atMs < picture.fromMs || mark.atMs > picture.toMs) return '';
    return `<path class="mark-visit" stroke="#005a8e" stroke-width="1.5" stroke-dasharray="4 3" d="M${r(x(mark.atMs))} ${topPx}V${basePx}"/>`;
  });
  return `<svg class="line-chart" role="img" aria-label="${escapeMarkup(pictureSays(picture))}" width="${size.widthPx}" height="${size.heightPx}" viewBox="0 0 ${size.widthPx} ${size.heightPx}" xmlns="http://www.w3.org/2000/svg">${axes(picture, { leftPx, rightPx, topPx, basePx, min, max }, zone)}${marks.join('')}${lines.join('')}</svg>`;
}

function pathOf(points: readonly { readonly x: number; readonly y: number }[], x: (ms: number) => number, y: (value: number) => number): string {
  let path = '';
  let pen = false;
  for (const point of points) {
    if (Number.isNaN(point.y)) pen = false;
    else {
      path += `${pen ? 'L' : 'M'}${r(x(point.x))} ${r(y(point.y))}`;
      // A value that stands alone is shown as a short dash rather than as nothing.
      if (!pen) path += 'h0.1';
      pen = true;
    }
  }
  return path;
}

function axes(picture: LinePicture, at: { leftPx: number; rightPx: number; topPx: number; basePx: number; min: number; max: number }, zone: string): string {
  const numbers = [0, 0.5, 1].map((share) => {
    const value = at.min + (at.max - at.min) * share;
    const yPx = at.basePx - share * (at.basePx - at.topPx);
    return `<path class="grid" stroke="#d9dcdf" d="M${at.leftPx} ${r(yPx)}H${r(at.rightPx)}"/><text class="axis" fill="#555b61" font-size="11" text-anchor="end" x="${at.leftPx - 5}" y="${r(yPx + 4)}">${escapeMarkup(short(value, at.max - at.min))}</text>`;
  });
  const long = picture.toMs - picture.fromMs > 2 * DAY_MS;
  const times = [0, 0.5, 1].map((share) => {
    const ms = picture.fromMs + (picture.toMs - picture.fromMs) * share;
    return `<text class="axis" fill="#555b61" font-size="11" text-anchor="${share === 0 ? 'start' : share === 1 ? 'end' : 'middle'}" x="${r(at.leftPx + share * (at.rightPx - at.leftPx))}" y="${at.basePx + 16}">${escapeMarkup(long ? dateWords(ms, zone) : clockWords(ms, zone))}</text>`;
  });
  return numbers.join('') + times.join('');
}

function short(value: number, span: number): string {
  return value.toFixed(span < 2 ? 2 : span < 20 ? 1 : 0).replace('-', '−');
}
