import { CategoryScale, Chart, Filler, LinearScale, LineController, LineElement, PointElement, type Plugin, Tooltip } from 'chart.js';
import { chartConfigOf, type LinePicture, type Palette } from '../views/line-picture.ts';
import { clockWords, dateWords, timeWords } from '../views/site-time.ts';

Chart.register(LineController, LineElement, PointElement, LinearScale, CategoryScale, Filler, Tooltip);

/** Shades as the style sheet has them now, in light, in dark and on paper. */
function paletteNow(): Palette {
  const style = getComputedStyle(document.documentElement);
  const shade = (name: string): string => style.getPropertyValue(name).trim();
  return { strong: shade('--ink'), soft: shade('--ink-soft'), second: shade('--blue'), third: shade('--purple'), band: shade('--rest'), grid: shade('--line'), text: shade('--ink-soft'), onset: shade('--onset'), visit: shade('--blue') };
}

/** Spans when it began, and visits, drawn behind the lines. */
function marksPlugin(picture: LinePicture, palette: Palette): Plugin<'line'> {
  return {
    id: 'marks',
    beforeDatasetsDraw(chart) {
      const { ctx, chartArea, scales } = chart;
      const x = scales['x'];
      if (x === undefined) return;
      ctx.save();
      for (const mark of picture.marks) {
        if (mark.kind === 'onset') {
          const left = Math.max(chartArea.left, x.getPixelForValue(mark.fromMs));
          const right = Math.min(chartArea.right, Math.max(left + 2, x.getPixelForValue(mark.toMs)));
          if (right <= chartArea.left || left >= chartArea.right) continue;
          ctx.fillStyle = palette.onset;
          ctx.fillRect(left, chartArea.top, right - left, chartArea.bottom - chartArea.top);
        } else {
          const at = x.getPixelForValue(mark.atMs);
          if (at < chartArea.left || at > chartArea.right) continue;
          ctx.strokeStyle = palette.visit;
          ctx.setLineDash([4, 3]);
          ctx.beginPath();
          ctx.moveTo(at, chartArea.top);
          ctx.lineTo(at, chartArea.bottom);
          ctx.stroke();
        }
      }
      ctx.restore();
    },
  };
}

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const STEPS_MS = [HOUR_MS, 3 * HOUR_MS, 6 * HOUR_MS, DAY_MS, 2 * DAY_MS, 7 * DAY_MS, 14 * DAY_MS, 30 * DAY_MS, 60 * DAY_MS, 120 * DAY_MS];

/** Draw a picture on a canvas; the answer takes it away again. Drawn anew when light or dark changes. */
export function drawChart(canvas: HTMLCanvasElement, picture: LinePicture, zone: string): () => void {
  const make = (): Chart => {
    const palette = paletteNow();
    const config = chartConfigOf(picture, palette);
    const spanMs = picture.toMs - picture.fromMs;
    const roomFor = Math.max(2, Math.floor((canvas.parentElement?.clientWidth ?? 600) / 90));
    const stepMs = STEPS_MS.find((step) => spanMs / step <= roomFor) ?? 365 * DAY_MS;
    const tick = (value: number | string): string => (stepMs < DAY_MS ? clockWords(Number(value), zone) : dateWords(Number(value), zone, Number(value)));
    return new Chart(canvas, {
      type: 'line',
      data: config.data,
      plugins: [marksPlugin(picture, palette)],
      options: {
        ...config.options,
        interaction: { mode: 'nearest', axis: 'x', intersect: false },
        scales: {
          x: { ...config.options.scales.x, grid: { color: palette.grid }, border: { color: palette.grid }, ticks: { color: palette.text, stepSize: stepMs, maxRotation: 0, autoSkip: false, callback: tick, includeBounds: false }, afterBuildTicks: (axis) => placeTicks(axis, picture, stepMs) },
          y: { ...config.options.scales.y, grid: { color: palette.grid }, border: { display: false }, ticks: { color: palette.text, maxTicksLimit: 5, includeBounds: false } },
        },
        plugins: {
          legend: { display: false },
          tooltip: {
            animation: false,
            filter: (item) => item.dataset.label !== '' && item.dataset.borderWidth !== 0,
            callbacks: { title: (items) => (items[0] === undefined ? '' : timeWords(items[0].parsed.x ?? 0, zone)), label: (item) => `${item.dataset.label ?? ''}: ${Number((item.parsed.y ?? 0).toPrecision(4))} ${picture.unit}` },
          },
        },
      },
    });
  };
  let chart = make();
  const scheme = window.matchMedia('(prefers-color-scheme: dark)');
  const anew = (): void => {
    chart.destroy();
    chart = make();
  };
  scheme.addEventListener('change', anew);
  return () => {
    scheme.removeEventListener('change', anew);
    chart.destroy();
  };
}

/** Ticks on whole steps back from the newest end, so that the label that matters most always stands. */
function placeTicks(axis: { ticks: { value: number }[] }, picture: LinePicture, stepMs: number): void {
  const wholeMs = Math.min(stepMs, DAY_MS);
  // A tick of days stands in the middle of its day, where the day's value is drawn.
  const last = stepMs < DAY_MS ? Math.floor(picture.toMs / wholeMs) * wholeMs : picture.toMs - DAY_MS / 2;
  const ticks: { value: number }[] = [];
  for (let value = last; value >= picture.fromMs; value -= stepMs) ticks.unshift({ value });
  axis.ticks = ticks;
}
