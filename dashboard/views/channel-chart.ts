import type { ReadingsAnswer } from '../../shared/api.ts';
import type { LinePicture, XY } from './line-picture.ts';

const STATE_HOLDS_MS = 75 * 60_000;

/**
 * The longest distance of two spans that still belong together. Buckets are left out where nothing was sent, so a series
 * that reports more slowly than a bucket is wide has holes that are no gaps: three times its usual distance is one.
 */
export function gapMsOf(answer: Pick<ReadingsAnswer, 'points' | 'bucketMs' | 'unit'>): number {
  const distances = answer.points.slice(1).map((point, index) => point[0] - answer.points[index]![0]).sort((a, b) => a - b);
  const usualMs = distances[Math.floor(distances.length / 2)] ?? answer.bucketMs;
  const gapMs = Math.max(answer.bucketMs, usualMs) * 3;
  return answer.unit === '0/1' ? Math.max(gapMs, STATE_HOLDS_MS + answer.bucketMs) : gapMs;
}

/** How a kept value is drawn: ratios in per cent, hour meters in hours. */
function scaleOf(unit: string): { readonly factor: number; readonly unit: string } {
  if (unit === 'ratio') return { factor: 100, unit: '%' };
  if (unit === 's') return { factor: 1 / 3600, unit: 'h' };
  return { factor: 1, unit: unit === '0/1' ? 'share of time on' : unit };
}

/** One raw channel: its mean as a line over the band from least to greatest; gaps stay open. */
export function channelChart(answer: ReadingsAnswer): LinePicture {
  const gapMs = gapMsOf(answer);
  const { factor, unit } = scaleOf(answer.unit);
  const column = (index: 1 | 2 | 3): XY[] => {
    const points: XY[] = [];
    let lastMs: number | undefined;
    for (const point of answer.points) {
      if (lastMs !== undefined && point[0] - lastMs > gapMs) points.push({ x: (lastMs + point[0]) / 2, y: Number.NaN });
      points.push({ x: point[0], y: point[index] * factor });
      lastMs = point[0];
    }
    return points;
  };
  const state = answer.unit === '0/1';
  return {
    id: `channel-${answer.channel}`,
    title: answer.label,
    unit,
    fromMs: Date.parse(answer.fromAt),
    toMs: Date.parse(answer.toAt),
    leastSpan: state ? 1 : unit === '%' || unit === '°C' ? 2 : unit === 'kPa' ? 10 : 1e-6,
    startAtZero: state || unit === 'A',
    series: [
      { label: state ? 'share on' : 'mean', shade: 'strong', stepped: state, points: column(2) },
      ...(state ? [] : [{ label: 'least to greatest', shade: 'soft' as const, stepped: false, points: column(3), floor: column(1) }]),
    ],
    marks: [],
  };
}
