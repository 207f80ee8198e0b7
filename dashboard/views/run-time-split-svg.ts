import type { RunTimeParts } from './finding-story.ts';
import { changeWords } from './number-words.ts';

const r = (value: number): string => String(Math.round(value * 10) / 10);

/**
 * The two parts of a change in run time as bars on one logarithmic scale: to the right they lengthen it, to the left they
 * shorten it, so that less delivered stands on the right; the third bar is their sum. Words stand on each, so that the shade isn't needed.
 */
export function runTimeSplitSvg({ demandLn, deliveryLn }: RunTimeParts, widthPx: number): string {
  const nameRoom = 118;
  const valueRoom = 74;
  const sidePx = Math.max(60, widthPx - nameRoom - valueRoom * 2);
  const parts = [['drawn', demandLn, demandLn, 'split-demand', '#005a8e'], ['delivered', deliveryLn, -deliveryLn, 'split-delivery', '#b34700'], ['run time', demandLn + deliveryLn, demandLn + deliveryLn, 'split-sum', '#3b4248']] as const;
  const low = Math.min(0, ...parts.map((part) => part[1]));
  // A scale of at least a fifth, so that a wobble isn't drawn as a cliff.
  const high = Math.max(Math.log(1.2), ...parts.map((part) => part[1]));
  const x = (ln: number): number => nameRoom + valueRoom + ((ln - low) / (high - low)) * sidePx;
  const rows = parts.map(([name, ln, shown, shade, fill], index) => {
    const y = 6 + index * 26;
    const [from, to] = [Math.min(x(0), x(ln)), Math.max(x(0), x(ln))];
    const right = ln >= 0;
    return (
      `<text class="axis" font-size="13" fill="#555b61" x="0" y="${y + 13}">${name}</text>` +
      `<rect class="${shade}" fill="${fill}" x="${r(from)}" y="${y}" width="${r(Math.max(1, to - from))}" height="17"/>` +
      `<text class="axis-name" font-size="13" fill="#22272b" text-anchor="${right ? 'start' : 'end'}" x="${r(right ? to + 6 : from - 6)}" y="${y + 13}">${changeWords(Math.exp(shown) - 1)}</text>`
    );
  });
  return `<svg class="split" role="img" aria-label="Parts of the change in run time: demand ${changeWords(Math.exp(demandLn) - 1)}, delivery ${changeWords(Math.exp(-deliveryLn) - 1)}" width="${widthPx}" height="86" viewBox="0 0 ${widthPx} 86" xmlns="http://www.w3.org/2000/svg">${rows.join('')}<path class="grid-same" stroke="#8b9197" d="M${r(x(0))} 2V82"/></svg>`;
}
