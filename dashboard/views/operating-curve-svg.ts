import type { CampaignPoint, KeptCampaign, ReplaySettings } from '../../shared/world-replay.ts';
import { escapeMarkup } from './number-words.ts';

/*
 * What is found, against what it costs: each point is one choice of settings over the same worlds. The bar through a point is
 * the 95 % range of a count so small; the line joins the points in order of what was asked for.
 */

const HEIGHT_PX = 260;
const LEFT_PX = 56;
const RIGHT_PX = 24;
const TOP_PX = 30;
/** Width of a letter of 12 px, on the wide side. */
const LETTER_PX = 7;
const BOTTOM_PX = 46;

/** The setting that the points of a campaign differ in; the price where they don't. */
export function variedSetting(points: readonly CampaignPoint[]): keyof ReplaySettings {
  const names: readonly (keyof ReplaySettings)[] = ['falseFindingsPerYear', 'smallestChange', 'baselineDays', 'horizonDays'];
  return names.find((name) => new Set(points.map((one) => one.settings[name])).size > 1) ?? 'falseFindingsPerYear';
}

const POINT_WORDS: Readonly<Record<keyof ReplaySettings, (value: number) => string>> = { falseFindingsPerYear: (value) => `asked ${value}`, smallestChange: (value) => `change ${value}`, baselineDays: (value) => `${value} days`, horizonDays: (value) => `${value} days ahead` };

/** Of those that could be found and were judged, the share found; null where there were none. */
export function foundShareOf({ found, missed }: Pick<CampaignPoint, 'found' | 'missed'>): number | null {
  return found + missed === 0 ? null : found / (found + missed);
}

export type CurveMark = { readonly xPx: number; readonly yPx: number; readonly lowPx: number; readonly highPx: number; readonly words: string };

/** Where each point stands, px. The scale of false findings begins at 0 and ends past the highest range. */
export function curveMarks(points: readonly CampaignPoint[], widthPx: number): { readonly marks: readonly CurveMark[]; readonly ticks: readonly { readonly xPx: number; readonly words: string }[] } {
  const most = Math.max(0.01, ...points.map((one) => one.falsePerYear.high));
  const step = tickStep(most / 5);
  const end = Math.ceil(most / step) * step;
  const xPx = (perYear: number): number => LEFT_PX + (perYear / end) * (widthPx - LEFT_PX - RIGHT_PX);
  const yPx = (share: number): number => HEIGHT_PX - BOTTOM_PX - share * (HEIGHT_PX - BOTTOM_PX - TOP_PX);
  const ticks = Array.from({ length: Math.round(end / step) + 1 }, (_, index) => ({ xPx: xPx(index * step), words: String(Number((index * step).toPrecision(3))) }));
  const name = variedSetting(points);
  const marks = points.flatMap((one): CurveMark[] => {
    const share = foundShareOf(one);
    if (share === null) return [];
    const { value, low, high } = one.falsePerYear;
    return [{ xPx: xPx(value), yPx: yPx(share), lowPx: xPx(low), highPx: xPx(high), words: POINT_WORDS[name](one.settings[name]) }];
  });
  return { marks, ticks };
}

type Name = { readonly xPx: number; readonly yPx: number; readonly left: boolean };

/** Each point's words where they cover neither another point nor other words: below the line first, as it rises. */
function placedNames(marks: readonly CurveMark[], widthPx: number): Name[] {
  const taken: { readonly from: number; readonly to: number; readonly yPx: number }[] = marks.map((one) => ({ from: one.xPx - 6, to: one.xPx + 6, yPx: one.yPx + 4 }));
  return marks.map((one) => {
    const wide = one.words.length * LETTER_PX;
    const places = [[8, 18, false], [-8, -9, true], [8, 34, false], [-8, -25, true], [8, 50, false]] as const;
    const names = places.map(([dx, dy, left]): Name => ({ xPx: one.xPx + dx, yPx: one.yPx + dy, left }));
    const box = ({ xPx, yPx, left }: Name): { from: number; to: number; yPx: number } => ({ from: left ? xPx - wide : xPx, to: left ? xPx : xPx + wide, yPx });
    const free = names.find((name) => {
      const { from, to, yPx } = box(name);
      return from >= LEFT_PX && to <= widthPx && taken.every((other) => other.to < from || other.from > to || Math.abs(other.yPx - yPx) > 13);
    });
    const name = free ?? names[0]!;
    taken.push(box(name));
    return name;
  });
}

/** 1, 2 or 5 times a power of ten, at least `wanted`. */
function tickStep(wanted: number): number {
  const power = 10 ** Math.floor(Math.log10(wanted));
  return [1, 2, 5, 10].map((one) => one * power).find((one) => one >= wanted - 1e-12) ?? 10 * power;
}

const r = (value: number): string => String(Math.round(value * 10) / 10);
const TEXT = 'class="axis" font-size="12" fill="#555b61"';

/** The curve in words, as the picture's name. */
export function operatingCurveSays({ says, points }: KeptCampaign): string {
  const name = variedSetting(points);
  const each = points.map((one) => {
    const share = foundShareOf(one);
    return `${POINT_WORDS[name](one.settings[name])}: ${share === null ? 'none to find' : `${Math.round(share * 100)} % found`} at ${one.falsePerYear.value.toFixed(2)} false`;
  });
  return `${says}. Found share against false findings a generator-year. ${each.join('; ')}.`;
}

/** The operating curve of one campaign as markup. */
export function operatingCurveSvg(campaign: KeptCampaign, widthPx: number): string {
  const { marks, ticks } = curveMarks(campaign.points, widthPx);
  const bottomPx = HEIGHT_PX - BOTTOM_PX;
  const scale = [0, 0.25, 0.5, 0.75, 1].map((share) => {
    const y = r(bottomPx - share * (bottomPx - TOP_PX));
    return `<path class="grid" stroke="#e3e6e8" d="M${LEFT_PX} ${y}H${r(widthPx - RIGHT_PX)}"/><text ${TEXT} text-anchor="end" x="${LEFT_PX - 6}" y="${r(Number(y) + 4)}">${share * 100} %</text>`;
  });
  const axis = ticks.map(({ xPx, words }) => `<path class="grid" stroke="#e3e6e8" d="M${r(xPx)} ${bottomPx}v5"/><text ${TEXT} text-anchor="middle" x="${r(xPx)}" y="${bottomPx + 18}">${words}</text>`);
  const line = marks.length < 2 ? '' : `<path class="curve-line" fill="none" stroke="#005a8e" stroke-width="2" d="M${marks.map((one) => `${r(one.xPx)} ${r(one.yPx)}`).join('L')}"/>`;
  const names = placedNames(marks, widthPx);
  const dots = marks.map((one, index) => {
    const { xPx: x, yPx: y, left } = names[index]!;
    return `<path class="curve-range" stroke="#858b91" d="M${r(one.lowPx)} ${r(one.yPx)}H${r(one.highPx)}"/><circle class="curve-dot" fill="#005a8e" cx="${r(one.xPx)}" cy="${r(one.yPx)}" r="5"/><text class="axis-name" font-size="12" fill="#22272b" text-anchor="${left ? 'end' : 'start'}" x="${r(x)}" y="${r(y)}">${escapeMarkup(one.words)}</text>`;
  });
  const name = `<text class="axis-name" font-size="13" fill="#22272b" text-anchor="end" x="${r(widthPx - RIGHT_PX)}" y="${HEIGHT_PX - 8}">false findings a generator-year</text><text class="axis-name" font-size="13" fill="#22272b" x="2" y="12">found</text>`;
  return `<svg class="curve" role="img" aria-label="${escapeMarkup(operatingCurveSays(campaign))}" width="${widthPx}" height="${HEIGHT_PX}" viewBox="0 0 ${widthPx} ${HEIGHT_PX}" xmlns="http://www.w3.org/2000/svg">${scale.join('')}${axis.join('')}${line}${dots.join('')}${name}</svg>`;
}
