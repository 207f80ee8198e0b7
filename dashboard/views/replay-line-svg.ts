import type { ReplayedFinding, ReplayedGenerator } from '../../shared/world-replay.ts';
import { escapeMarkup } from './number-words.ts';
import { faultOutcomeWords, faultWords, OUTCOME_WORDS, replayedFindingWords, upsetWords } from './replay-words.ts';
import { dayNameWords, wallTime } from './site-time.ts';

/*
 * Truth above findings on the axis of the rest band that stands below: each a bar from its beginning to its end, with its words
 * over it. Where a bar runs to the right edge it was still there at the end.
 */

/** As the large rest band has them, so that both share one axis. */
const LEFT_PX = 62;
const RIGHT_PX = 14;
const LANE_PX = 32;
const BAR_PX = 9;
/** Width of a letter of 12 px, on the wide side, so that words stay inside. */
const LETTER_PX = 6.8;

export type ReplayBar = { readonly kind: 'truth' | ReplayedFinding['outcome']; readonly xPx: number; readonly widthPx: number; readonly words: string; readonly title: string };
export type ReplayShapes = { readonly truth: readonly ReplayBar[]; readonly found: readonly ReplayBar[]; readonly upsets: readonly { readonly xPx: number; readonly widthPx: number; readonly title: string }[]; readonly visitXPx: readonly number[] };

const DAY_MS = 86_400_000;

/** Where each thing stands, px from the left of the picture; days are those of the site's clock, as in the rest band. */
export function replayShapes(one: ReplayedGenerator, widthPx: number): ReplayShapes {
  const first = one.days[0]?.day ?? '1970-01-01';
  const last = one.days.at(-1)?.day ?? first;
  const firstMs = Date.parse(`${first}T00:00:00Z`);
  const spanMs = Date.parse(`${last}T00:00:00Z`) + DAY_MS - firstMs;
  const plotPx = widthPx - LEFT_PX - RIGHT_PX;
  const xPxAt = (at: string | null): number => {
    if (at === null) return LEFT_PX + plotPx;
    const share = (Date.parse(`${wallTime(Date.parse(at), one.zone)}Z`) - firstMs) / spanMs;
    return LEFT_PX + plotPx * Math.min(1, Math.max(0, share));
  };
  const span = (from: string, to: string | null): { xPx: number; widthPx: number } => ({ xPx: xPxAt(from), widthPx: Math.max(3, xPxAt(to) - xPxAt(from)) });
  const dates = (from: string, to: string | null): string => `${dayWords(from, one.zone)} to ${to === null ? 'the end' : dayWords(to, one.zone)}`;
  return {
    truth: one.faults.map((fault) => ({ kind: 'truth', ...span(fault.onset, fault.end), words: `${fault.outcome === 'laid-over' ? 'Laid over' : 'True'}: ${faultWords(fault)}`, title: `${faultWords(fault)}, ${dates(fault.onset, fault.end)}: ${faultOutcomeWords(fault)}` })),
    found: one.findings.map((finding) => ({ kind: finding.outcome, ...span(finding.openedAt, finding.closedAt), words: `Found: ${replayedFindingWords(finding)}${finding.outcome === 'unjudged' ? '' : `: ${OUTCOME_WORDS[finding.outcome]}`}`, title: `${replayedFindingWords(finding)}, ${dates(finding.openedAt, finding.closedAt)}: ${OUTCOME_WORDS[finding.outcome]}` })),
    upsets: one.upsets.map((upset) => ({ ...span(upset.from, upset.to), title: `${upsetWords(upset.kind)}, ${dates(upset.from, upset.to)}` })),
    visitXPx: one.visits.map(xPxAt),
  };
}

function dayWords(at: string, zone: string): string {
  return dayNameWords(wallTime(Date.parse(at), zone).slice(0, 10));
}

/** The picture in words, as its name. */
export function replayLineSays(one: ReplayedGenerator): string {
  const judged = one.findings.every((finding) => finding.outcome !== 'unjudged') && one.faults.every((fault) => fault.outcome !== 'laid-over');
  const truth = !judged ? (one.faults.length === 0 ? 'What was true is not known.' : `Laid over: ${one.faults.map((fault) => `${faultWords(fault)} (${faultOutcomeWords(fault)})`).join('; ')}.`) : one.faults.length === 0 ? 'Nothing was wrong.' : `True: ${one.faults.map((fault) => `${faultWords(fault)} (${faultOutcomeWords(fault)})`).join('; ')}.`;
  const found = one.findings.length === 0 ? 'Nothing was found.' : `Found: ${one.findings.map((finding) => `${replayedFindingWords(finding)} (${OUTCOME_WORDS[finding.outcome]})`).join('; ')}.`;
  return `${truth} ${found}`;
}

const r = (value: number): string => String(Math.round(value * 100) / 100);
const FILLS: Readonly<Record<ReplayBar['kind'], string>> = { truth: '#3b4248', right: '#005a8e', family: '#005a8e', excused: '#858b91', late: '#858b91', false: '#b34700', unjudged: '#005a8e' };

function barMarkup(bar: ReplayBar, topPx: number, widthPx: number): string {
  const wide = bar.words.length * LETTER_PX;
  const letters = Math.floor(widthPx / LETTER_PX);
  const words = bar.words.length > letters ? `${bar.words.slice(0, letters - 1)}…` : bar.words;
  const textPx = Math.max(0, Math.min(bar.xPx, widthPx - wide));
  const fill = bar.kind === 'family' ? `fill="none" stroke="${FILLS.family}" stroke-width="2"` : `fill="${FILLS[bar.kind]}"`;
  return `<g><title>${escapeMarkup(bar.title)}</title><text class="replay-words" font-size="12" fill="#22272b" x="${r(textPx)}" y="${r(topPx + 13)}">${escapeMarkup(words)}</text><rect class="replay-${bar.kind}" ${fill} x="${r(bar.xPx)}" y="${r(topPx + 18)}" width="${r(bar.widthPx)}" height="${BAR_PX}"/></g>`;
}

/** Truth, what else befell it, and findings, one lane each; as high as it needs. `axis`: of which generator's days it takes its scale. */
export function replayLineSvg(one: ReplayedGenerator, widthPx: number, axis: ReplayedGenerator = one): string {
  const shapes = replayShapes({ ...one, days: axis.days }, widthPx);
  let topPx = 0;
  let inner = '';
  for (const bar of shapes.truth) {
    inner += barMarkup(bar, topPx, widthPx);
    topPx += LANE_PX;
  }
  if (shapes.upsets.length > 0) {
    inner += `<text class="axis" font-size="12" fill="#555b61" text-anchor="end" x="${LEFT_PX - 6}" y="${topPx + 13}">upsets</text>`;
    for (const upset of shapes.upsets) inner += `<rect class="replay-upset" fill="#c9ced3" stroke="#858b91" x="${r(upset.xPx)}" y="${topPx + 5}" width="${r(upset.widthPx)}" height="8"><title>${escapeMarkup(upset.title)}</title></rect>`;
    topPx += 20;
  }
  for (const bar of shapes.found) {
    inner += barMarkup(bar, topPx, widthPx);
    topPx += LANE_PX;
  }
  if (topPx === 0) {
    inner = `<text class="replay-words" font-size="12" fill="#22272b" x="${LEFT_PX}" y="14">${axis === one ? 'Nothing was wrong, nothing was found.' : 'Nothing was found.'}</text>`;
    topPx = 20;
  }
  const visits = shapes.visitXPx.map((xPx) => `M${r(xPx)} 0v${topPx}`).join('');
  const lines = visits === '' ? '' : `<path class="band-visit" stroke="#005a8e" stroke-width="1" stroke-dasharray="2 3" d="${visits}"/>`;
  return `<svg class="replay-line" role="img" aria-label="${escapeMarkup(replayLineSays(one))}" width="${widthPx}" height="${topPx}" viewBox="0 0 ${widthPx} ${topPx}" xmlns="http://www.w3.org/2000/svg">${lines}${inner}</svg>`;
}
