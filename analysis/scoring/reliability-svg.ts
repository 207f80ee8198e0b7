import type { Reliability } from './reliability.ts';
import { DARK, line, MIDDLE, picture, round, text } from './svg.ts';

const WIDTH = 440;
const HEIGHT = 240;
const LEFT = 52;
const BOTTOM = 44;
const TOP = 14;

/** What was stated against what came true, a dot for each tenth of the scale. */
export function reliabilitySvg({ bins, count, calibrationError }: Reliability): string {
  const x = (share: number): number => LEFT + share * (WIDTH - LEFT - 30);
  const y = (share: number): number => HEIGHT - BOTTOM - share * (HEIGHT - BOTTOM - TOP);
  const scale = [0, 0.5, 1].flatMap((share) => [line(LEFT, y(share), x(1), y(share)), text(LEFT - 6, y(share) + 4, `${share * 100} %`, 'end'), text(x(share), HEIGHT - BOTTOM + 16, `${share * 100} %`, 'middle')]);
  const dots = bins.map((bin) => `<circle cx="${round(x(bin.stated))}" cy="${round(y(bin.right))}" r="${round(3 + 12 * Math.sqrt(bin.count / Math.max(1, count)))}" fill="${DARK}" fill-opacity="0.75"><title>${bin.count} findings: stated ${Math.round(bin.stated * 100)} %, right ${Math.round(bin.right * 100)} %</title></circle>`);
  const label = calibrationError === null ? 'No finding' : `${count} findings; what was stated is off by ${calibrationError.toFixed(2)} on average`;
  return picture(WIDTH, HEIGHT, label, [...scale, line(x(0), y(0), x(1), y(1), MIDDLE), ...dots, text((LEFT + WIDTH) / 2, HEIGHT - 8, 'stated', 'middle'), text(LEFT + 6, TOP - 2, 'right')]);
}
