import type { CurvePoint } from './score-table.ts';
import { DARK, line, picture, PALE, rect, text } from './svg.ts';

const WIDTH = 440;
const HEIGHT = 240;
const LEFT = 52;
const BOTTOM = 44;

/** Found share against effect: one column for each size of change, as wide as the others. */
export function curveSvg(points: readonly CurvePoint[]): string {
  const step = (WIDTH - LEFT - 10) / Math.max(1, points.length);
  const top = 14;
  const y = (share: number): number => HEIGHT - BOTTOM - share * (HEIGHT - BOTTOM - top);
  const percent = (value: number): string => `${Math.round(value * 100)}`;
  const scale = [0, 0.5, 1].flatMap((share) => [line(LEFT, y(share), WIDTH - 10, y(share)), text(LEFT - 6, y(share) + 4, `${percent(share)} %`, 'end')]);
  const columns = points.flatMap((point, index) => {
    const x = LEFT + index * step;
    return [
      rect(x + 6, y(1), step - 12, y(0) - y(1), '#f4f6f9'),
      rect(x + 6, y(point.share), step - 12, y(0) - y(point.share), DARK),
      text(x + step / 2, y(point.share) - 4, `${percent(point.share)} (${point.faults})`, 'middle'),
      text(x + step / 2, HEIGHT - BOTTOM + 16, point.to === null ? `> ${percent(point.from)}` : `${percent(point.from)}–${percent(point.to)}`, 'middle'),
    ];
  });
  const label = points.length === 0 ? 'No fault whose effect is known' : points.map((point) => `${percent(point.share)} % of ${point.faults} faults found from ${percent(point.from)} % on`).join('; ');
  return picture(WIDTH, HEIGHT, label, [...scale, ...columns, line(LEFT, y(0), WIDTH - 10, y(0), PALE), text((LEFT + WIDTH) / 2, HEIGHT - 8, 'change of run time, %', 'middle')]);
}
