/*
 * A chart over time as plain data: made by pure functions, drawn on screen by Chart.js and read by tests and tables.
 * Gaps are points whose value is NaN; nothing is drawn across them.
 */

export type XY = { readonly x: number; readonly y: number };
export type Shade = 'strong' | 'soft' | 'second' | 'third';
export type LineSeries = { readonly label: string; readonly shade: Shade; readonly stepped: boolean; readonly points: readonly XY[]; /** Lower edge of a filled band between this and `points`. */ readonly floor?: readonly XY[] };
/** When a limit is met: 10 to 90 % and 25 to 75 % of the chances, drawn as wedges from the newest value to the limit's line; `null` = beyond the horizon. */
export type ForecastMark = { readonly kind: 'forecast'; readonly fromMs: number; readonly fromY: number; readonly toY: number; readonly wide: readonly [fromMs: number, toMs: number | null]; readonly narrow: readonly [fromMs: number, toMs: number | null] | null; readonly likelyMs: number | null; readonly says: string };
export type Mark =
  | { readonly kind: 'onset'; readonly fromMs: number; readonly toMs: number; readonly says: string }
  | { readonly kind: 'visit'; readonly atMs: number; readonly says: string }
  | { readonly kind: 'now'; readonly atMs: number; readonly says: string }
  | { readonly kind: 'limit'; readonly y: number; readonly says: string }
  | ForecastMark;
export type LinePicture = {
  readonly id: string;
  readonly title: string;
  /** Unit of the vertical axis, shown with every number. */
  readonly unit: string;
  readonly fromMs: number;
  readonly toMs: number;
  readonly startAtZero: boolean;
  /** The vertical axis spans at least this much, in `unit`, so that a wobble of a sensor isn't drawn as a cliff. */
  readonly leastSpan: number;
  readonly series: readonly LineSeries[];
  readonly marks: readonly Mark[];
  /** Pictures below one another on one time axis give their vertical axes the same width. */
  readonly aligned?: boolean;
};

/** Colours that the page reads from its style sheet; a picture itself names shades only. */
export type Palette = Readonly<Record<Shade | 'band' | 'grid' | 'text' | 'onset' | 'visit' | 'limit', string>>;

export type ChartDataset = { label: string; data: XY[]; borderColor: string; borderWidth: number; stepped: false | 'before'; fill: false | string; backgroundColor: string; pointRadius: 0; spanGaps: false; order: number };
export type ChartConfig = { type: 'line'; data: { datasets: ChartDataset[] }; options: { animation: false; parsing: false; normalized: true; responsive: true; maintainAspectRatio: false; scales: { x: { type: 'linear'; min: number; max: number }; y: { min: number; max: number } } } };

/**
 * The configuration of Chart.js, as plain data. No decimation plug-in: the server already sends at most 500 spans with
 * their least and greatest value, and the plug-in would draw across gaps.
 */
export function chartConfigOf(picture: LinePicture, palette: Palette): ChartConfig {
  const datasets = picture.series.flatMap((series, index): ChartDataset[] => {
    const common = { pointRadius: 0, spanGaps: false, stepped: series.stepped ? 'before' : false } as const;
    const line: ChartDataset = { ...common, label: series.label, data: [...series.points], borderColor: palette[series.shade], borderWidth: 1.5, fill: false, backgroundColor: palette[series.shade], order: index };
    if (series.floor === undefined) return [line];
    return [{ ...line, borderWidth: 0, borderColor: palette.band, backgroundColor: palette.band, fill: '+1', order: 10 + index }, { ...line, label: '', data: [...series.floor], borderWidth: 0, borderColor: palette.band, order: 10 + index }];
  });
  return {
    type: 'line',
    data: { datasets },
    options: { animation: false, parsing: false, normalized: true, responsive: true, maintainAspectRatio: false, scales: { x: { type: 'linear', min: picture.fromMs, max: picture.toMs }, y: verticalSpan(picture) } },
  };
}

/** Bounds of the vertical axis: what is drawn and a little air, never less than `leastSpan`. */
export function verticalSpan(picture: LinePicture): { min: number; max: number } {
  const inSpan = (point: XY): boolean => picture.aligned !== true || (point.x >= picture.fromMs && point.x <= picture.toMs);
  const drawn = picture.series.flatMap((series) => [...series.points, ...(series.floor ?? [])].filter(inSpan).map((point) => point.y)).filter((y) => !Number.isNaN(y));
  const values = drawn.length === 0 ? drawn : [...drawn, ...picture.marks.flatMap((mark) => (mark.kind === 'limit' ? [mark.y] : []))];
  const low = Math.min(...values);
  const high = Math.max(...values);
  if (values.length === 0) return { min: 0, max: picture.leastSpan };
  if (picture.startAtZero && low >= 0) return { min: 0, max: Math.max(picture.leastSpan, high * 1.06) };
  const span = Math.max(picture.leastSpan, (high - low) * 1.12);
  const middle = (low + high) / 2;
  return { min: middle - span / 2, max: middle + span / 2 };
}

/** The picture in words: its span, and the first and last value of each line. */
export function pictureSays(picture: LinePicture): string {
  const lines = picture.series.filter((series) => series.label !== '').map((series) => {
    const known = series.points.filter((point) => !Number.isNaN(point.y));
    const first = known[0];
    const last = known.at(-1);
    return first === undefined || last === undefined ? `${series.label}: no data` : `${series.label}: first ${round(first.y)} ${picture.unit}, last ${round(last.y)} ${picture.unit}`;
  });
  const limits = picture.marks.filter((mark) => mark.kind === 'limit' || mark.kind === 'forecast').map((mark) => ` ${mark.says}.`);
  return `${picture.title}. ${lines.join('; ')}.${limits.join('')}`;
}

function round(value: number): string {
  return Math.abs(value) >= 100 ? value.toFixed(0) : value.toPrecision(3);
}
