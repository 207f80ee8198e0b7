import { CategoryScale, Chart, Filler, LinearScale, LineController, LineElement, PointElement, type Plugin, Tooltip } from 'chart.js';
import { chartConfigOf, type LinePicture, type Mark, type Palette } from '../views/line-picture.ts';
import { clockWords, dateWords, msOfWallTime, timeWords, wallTime } from '../views/site-time.ts';

Chart.register(LineController, LineElement, PointElement, LinearScale, CategoryScale, Filler, Tooltip);

/** Shades as the style sheet has them now, in light, in dark and on paper. */
function paletteNow(): Palette {
  const style = getComputedStyle(document.documentElement);
  const shade = (name: string): string => style.getPropertyValue(name).trim();
  return { strong: shade('--ink'), soft: shade('--ink-soft'), second: shade('--blue'), third: shade('--purple'), band: shade('--rest'), grid: shade('--line'), text: shade('--ink-soft'), onset: shade('--onset'), visit: shade('--blue'), limit: shade('--orange') };
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
          if (x.getPixelForValue(mark.toMs) < chartArea.left) continue;
          const left = Math.max(chartArea.left, x.getPixelForValue(mark.fromMs));
          const right = Math.min(chartArea.right, Math.max(left + 2, x.getPixelForValue(mark.toMs)));
          if (right <= chartArea.left || left >= chartArea.right) continue;
          ctx.fillStyle = palette.onset;
          ctx.fillRect(left, chartArea.top, right - left, chartArea.bottom - chartArea.top);
        } else if (mark.kind === 'visit' || mark.kind === 'now') {
          const at = x.getPixelForValue(mark.atMs);
          if (at < chartArea.left || at > chartArea.right) continue;
          ctx.strokeStyle = mark.kind === 'visit' ? palette.visit : palette.soft;
          ctx.setLineDash(mark.kind === 'visit' ? [4, 3] : [1, 3]);
          ctx.beginPath();
          ctx.moveTo(at, chartArea.top);
          ctx.lineTo(at, chartArea.bottom);
          ctx.stroke();
        } else drawAhead(chart, mark, palette);
      }
      ctx.restore();
    },
  };
}

/** A limit as a line across, and the wedges in which it is met. */
function drawAhead(chart: Chart, mark: Extract<Mark, { kind: 'limit' | 'forecast' }>, palette: Palette): void {
  const { ctx, chartArea: area, scales } = chart;
  const [x, y] = [scales['x'], scales['y']];
  if (x === undefined || y === undefined) return;
  ctx.save();
  ctx.beginPath();
  ctx.rect(area.left, area.top, area.right - area.left, area.bottom - area.top);
  ctx.clip();
  if (mark.kind === 'limit') {
    const level = y.getPixelForValue(mark.y);
    ctx.strokeStyle = palette.limit;
    ctx.setLineDash([]);
    ctx.lineWidth = 1.5;
    ctx.beginPath();
    ctx.moveTo(area.left, level);
    ctx.lineTo(area.right, level);
    ctx.stroke();
  } else {
    const [fromX, fromY, toY] = [x.getPixelForValue(mark.fromMs), y.getPixelForValue(mark.fromY), y.getPixelForValue(mark.toY)];
    for (const span of [mark.wide, mark.narrow]) {
      if (span === null) continue;
      ctx.fillStyle = palette.onset;
      ctx.beginPath();
      ctx.moveTo(fromX, fromY);
      ctx.lineTo(x.getPixelForValue(span[0]), toY);
      // Beyond the horizon the wedge runs on at its present height to the edge.
      if (span[1] === null) {
        ctx.lineTo(area.right + 40, toY);
        ctx.lineTo(area.right + 40, fromY);
      } else ctx.lineTo(x.getPixelForValue(span[1]), toY);
      ctx.closePath();
      ctx.fill();
    }
    if (mark.likelyMs !== null) {
      const likelyX = x.getPixelForValue(mark.likelyMs);
      ctx.strokeStyle = palette.limit;
      ctx.lineWidth = 2;
      ctx.setLineDash([]);
      ctx.beginPath();
      ctx.moveTo(likelyX, toY - 6);
      ctx.lineTo(likelyX, toY + 6);
      ctx.stroke();
    }
  }
  ctx.restore();
}

/** Drag over a picture chooses a span of time; less than 8 px is a click and none. Gives a function that takes it away. */
function dragToZoom(canvas: HTMLCanvasElement, chartNow: () => Chart, onZoom: (fromMs: number, toMs: number) => void): () => void {
  let fromX: number | undefined;
  const xOf = (event: PointerEvent): number => event.clientX - canvas.getBoundingClientRect().left;
  const shade = document.createElement('div');
  shade.className = 'zoom-shade';
  const show = (a: number, b: number): void => {
    const { left, right } = chartNow().chartArea;
    const [low, high] = [Math.max(left, Math.min(a, b)), Math.min(right, Math.max(a, b))];
    shade.style.left = `${low}px`;
    shade.style.width = `${Math.max(0, high - low)}px`;
    canvas.parentElement?.append(shade);
  };
  const down = (event: PointerEvent): void => {
    if (event.button !== 0) return;
    fromX = xOf(event);
    canvas.setPointerCapture(event.pointerId);
  };
  const move = (event: PointerEvent): void => {
    if (fromX !== undefined && Math.abs(xOf(event) - fromX) >= 8) show(fromX, xOf(event));
  };
  const up = (event: PointerEvent): void => {
    const start = fromX;
    fromX = undefined;
    shade.remove();
    if (start === undefined || event.type === 'pointercancel' || Math.abs(xOf(event) - start) < 8) return;
    const { chartArea: area, scales } = chartNow();
    const at = (px: number): number => scales['x']!.getValueForPixel(Math.min(area.right, Math.max(area.left, px))) ?? 0;
    const [a, b] = [at(start), at(xOf(event))];
    onZoom(Math.min(a, b), Math.max(a, b));
  };
  const pairs = [['pointerdown', down], ['pointermove', move], ['pointerup', up], ['pointercancel', up]] as const;
  for (const [name, listener] of pairs) canvas.addEventListener(name, listener);
  return () => {
    for (const [name, listener] of pairs) canvas.removeEventListener(name, listener);
    shade.remove();
  };
}

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const STEPS_MS = [HOUR_MS, 3 * HOUR_MS, 6 * HOUR_MS, DAY_MS, 2 * DAY_MS, 7 * DAY_MS, 14 * DAY_MS, 30 * DAY_MS, 60 * DAY_MS, 120 * DAY_MS];

/** Width of the vertical axis where pictures stand below one another, px. */
const ALIGNED_PX = 58;

/** Draw a picture on a canvas; the answer takes it away again. Drawn anew when light or dark changes. With `onZoom` a drag chooses a span. */
export function drawChart(canvas: HTMLCanvasElement, picture: LinePicture, zone: string, onZoom?: (fromMs: number, toMs: number) => void): () => void {
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
          x: { ...config.options.scales.x, grid: { color: palette.grid }, border: { color: palette.grid }, ticks: { color: palette.text, stepSize: stepMs, maxRotation: 0, autoSkip: false, callback: tick, includeBounds: false }, afterBuildTicks: (axis) => placeTicks(axis, picture, stepMs, zone) },
          y: { ...config.options.scales.y, grid: { color: palette.grid }, border: { display: false }, ticks: { color: palette.text, maxTicksLimit: 5, includeBounds: false }, ...(picture.aligned === true && { afterFit: (axis: { width: number }) => void (axis.width = ALIGNED_PX) }) },
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
  const stopDrag = onZoom === undefined ? undefined : dragToZoom(canvas, () => chart, onZoom);
  return () => {
    scheme.removeEventListener('change', anew);
    stopDrag?.();
    chart.destroy();
  };
}

/** Ticks on whole steps back from the newest end, so that the label that matters most always stands. */
function placeTicks(axis: { ticks: { value: number }[] }, picture: LinePicture, stepMs: number, zone: string): void {
  const wholeMs = Math.min(stepMs, DAY_MS);
  // A tick of days stands in the middle of its day, where the day's value is drawn.
  const last = stepMs < DAY_MS ? Math.floor(picture.toMs / wholeMs) * wholeMs : picture.aligned === true ? lastNoon(picture.toMs, zone) : picture.toMs - DAY_MS / 2;
  const ticks: { value: number }[] = [];
  for (let value = last; value >= picture.fromMs; value -= stepMs) ticks.unshift({ value });
  axis.ticks = ticks;
}

/** The last noon at the site: a label of a day stands in its middle, wherever the span ends. */
function lastNoon(ms: number, zone: string): number {
  const noonMs = msOfWallTime(`${wallTime(ms, zone).slice(0, 10)}T12:00`, zone) ?? ms;
  return noonMs > ms ? noonMs - DAY_MS : noonMs;
}
