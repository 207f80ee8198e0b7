import type { CauseShape } from './domain-words.ts';
import { changeWords, escapeMarkup } from './number-words.ts';

/*
 * The demand–delivery plane: each generator a point against its own baseline. Right is more drawn, up is less delivered.
 * Both axes hold logarithms of the same length, and duty ratio = demand / delivery, so equal run time lies on diagonals:
 * where a cloud of points leaves its diagonal to the right a leak is likely, where it climbs something blocks or wears.
 */

export type PlanePoint = {
  readonly key: string;
  readonly name: string;
  readonly href: string;
  /** after/before − 1; −1 is nothing at all any more. */
  readonly demandChange: number;
  readonly deliveryChange: number;
  /** `null` = nothing found: drawn small and grey. */
  readonly shape: CauseShape | null;
  readonly rank: number;
};

export type PlacedPoint = PlanePoint & { readonly xPx: number; readonly yPx: number; /** Lies beyond the axes and is drawn at their edge. */ readonly beyond: boolean };
export type PlaneGeometry = { readonly sidePx: number; readonly leftPx: number; readonly topPx: number; readonly lowLn: number; readonly highLn: number };
export type PlaneLabel = { readonly key: string; readonly text: string; readonly xPx: number; readonly yPx: number; readonly anchor: 'start' | 'end' };
export type PlaneShapes = PlaneGeometry & { readonly points: readonly PlacedPoint[]; readonly labels: readonly PlaneLabel[] };

/** ln of how much more is drawn. */
export function drawnLn(point: Pick<PlanePoint, 'demandChange'>): number {
  return Math.log(Math.max(1e-6, 1 + point.demandChange));
}
/** ln of how much less is delivered; up. */
export function undeliveredLn(point: Pick<PlanePoint, 'deliveryChange'>): number {
  return -Math.log(Math.max(1e-6, 1 + point.deliveryChange));
}

/** Bounds of both axes: what the points need, at least ÷ 1.35 … × 2.2, at most ÷ 3 … × 9; points beyond stand at the edge. */
function boundsOf(points: readonly PlanePoint[]): { lowLn: number; highLn: number } {
  const all = points.flatMap((point) => [drawnLn(point), undeliveredLn(point)]);
  const lowLn = Math.max(-Math.log(3), Math.min(-Math.log(1.35), ...all.map((value) => value - 0.06)));
  const highLn = Math.min(Math.log(9), Math.max(Math.log(2.2), ...all.map((value) => value + 0.12)));
  return { lowLn, highLn };
}

export function xPxOf(geometry: PlaneGeometry, ln: number): number {
  return geometry.leftPx + ((ln - geometry.lowLn) / (geometry.highLn - geometry.lowLn)) * geometry.sidePx;
}
export function yPxOf(geometry: PlaneGeometry, ln: number): number {
  return geometry.topPx + geometry.sidePx - ((ln - geometry.lowLn) / (geometry.highLn - geometry.lowLn)) * geometry.sidePx;
}

/** Place every point; name the foremost ones where their names don't cover one another. */
export function planeShapes(points: readonly PlanePoint[], widthPx: number): PlaneShapes {
  const leftPx = 84;
  const topPx = 14;
  const geometry = { sidePx: Math.max(180, widthPx - leftPx - 14), leftPx, topPx, ...boundsOf(points) };
  const clamp = (ln: number): number => Math.min(geometry.highLn, Math.max(geometry.lowLn, ln));
  const placed = points.map((point): PlacedPoint => {
    const x = drawnLn(point);
    const y = undeliveredLn(point);
    return { ...point, xPx: xPxOf(geometry, clamp(x)), yPx: yPxOf(geometry, clamp(y)), beyond: clamp(x) !== x || clamp(y) !== y };
  });
  return { ...geometry, points: placed, labels: labelsOf(placed, geometry) };
}

type Box = { readonly x0: number; readonly x1: number; readonly y0: number; readonly y1: number };
const overlaps = (a: Box, b: Box): boolean => a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1;

/** Names of points with a finding, by rank, at most 14: beside the point where there is room, else above or below, else left to the pointer. */
function labelsOf(points: readonly PlacedPoint[], geometry: PlaneGeometry): PlaneLabel[] {
  const taken: Box[] = points.filter((point) => point.shape !== null).map((point) => boxAround(point, 6));
  const quiet: Box[] = points.filter((point) => point.shape === null).map((point) => boxAround(point, 3));
  const labels: PlaneLabel[] = [];
  const rightPx = geometry.leftPx + geometry.sidePx;
  for (const point of points.filter((one) => one.shape !== null).sort((a, b) => a.rank - b.rank)) {
    if (labels.length >= 14) break;
    const text = shortName(point.name);
    const widthPx = text.length * 6.6;
    const places = placesBeside(point)
      .map(([anchor, xPx, yPx]) => ({ anchor, xPx, yPx, box: { x0: anchor === 'start' ? xPx : xPx - widthPx, x1: anchor === 'start' ? xPx + widthPx : xPx, y0: yPx - 11, y1: yPx + 3 } }))
      .filter(({ box }) => box.x0 >= geometry.leftPx && box.x1 <= rightPx && box.y0 >= geometry.topPx && !taken.some((other) => overlaps(box, other)));
    // On a large picture a name may cover points without a finding where there is no other room; on a phone it would cover them all.
    const place = places.find(({ box }) => !quiet.some((other) => overlaps(box, other))) ?? (geometry.sidePx > 400 ? places[0] : undefined);
    if (place === undefined) continue;
    taken.push(place.box);
    labels.push({ key: point.key, text, xPx: place.xPx, yPx: place.yPx, anchor: place.anchor });
  }
  return labels;
}

const LABEL_LETTERS = 34;

/** A long name loses the end of its site, never its generator: `Larkfield county arc…, Generator 2`. */
function shortName(name: string): string {
  if (name.length <= LABEL_LETTERS) return name;
  const at = name.lastIndexOf(', ');
  const generator = at > 0 && name.length - at < LABEL_LETTERS / 2 ? name.slice(at) : '';
  return `${name.slice(0, LABEL_LETTERS - 1 - generator.length)}…${generator}`;
}

function boxAround(point: PlacedPoint, halfPx: number): Box {
  return { x0: point.xPx - halfPx, x1: point.xPx + halfPx, y0: point.yPx - halfPx, y1: point.yPx + halfPx };
}

function placesBeside({ xPx, yPx }: PlacedPoint): readonly (readonly [anchor: 'start' | 'end', xPx: number, yPx: number])[] {
  return [['start', xPx + 9, yPx + 4], ['end', xPx - 9, yPx + 4], ['start', xPx + 6, yPx - 9], ['end', xPx - 6, yPx - 9], ['start', xPx + 6, yPx + 17], ['end', xPx - 6, yPx + 17]];
}

/** Where the line of `runTimeFactor` × the baseline's duty ratio enters and leaves the square; `undefined` if it misses it. */
export function diagonalOf(geometry: PlaneGeometry, runTimeFactor: number): { readonly x1Px: number; readonly y1Px: number; readonly x2Px: number; readonly y2Px: number } | undefined {
  const sum = Math.log(runTimeFactor);
  const from = Math.max(geometry.lowLn, sum - geometry.highLn);
  const to = Math.min(geometry.highLn, sum - geometry.lowLn);
  if (to - from < 0.05) return undefined;
  return { x1Px: xPxOf(geometry, from), y1Px: yPxOf(geometry, sum - from), x2Px: xPxOf(geometry, to), y2Px: yPxOf(geometry, sum - to) };
}

const r = (value: number): string => String(Math.round(value * 10) / 10);
const TEXT = 'class="axis" font-size="12" fill="#555b61"';

/** What the axes name: as before first, then what has 54 px of room for its words. */
function tickFactors(geometry: PlaneGeometry): readonly number[] {
  const kept: number[] = [];
  for (const factor of [1, 2, 0.5, 4, 1.5, 8, 3, 2 / 3]) {
    const ln = Math.log(factor);
    const x = xPxOf(geometry, ln);
    if (ln >= geometry.lowLn && ln <= geometry.highLn && kept.every((other) => Math.abs(xPxOf(geometry, Math.log(other)) - x) >= 54)) kept.push(factor);
  }
  return kept;
}

function axesMarkup(geometry: PlaneGeometry): string {
  const { leftPx, topPx, sidePx } = geometry;
  const bottomPx = topPx + sidePx;
  const factors = tickFactors(geometry);
  const ticks = factors.map((factor) => {
    const x = xPxOf(geometry, Math.log(factor));
    const y = yPxOf(geometry, Math.log(factor));
    const same = factor === 1;
    const line = `class="${same ? 'grid-same' : 'grid'}" stroke="${same ? '#8b9197' : '#e3e6e8'}" stroke-width="1"`;
    return (
      `<path ${line} d="M${r(x)} ${topPx}V${r(bottomPx)}M${leftPx} ${r(y)}H${r(leftPx + sidePx)}"/>` +
      `<text ${TEXT} text-anchor="middle" x="${r(x)}" y="${r(bottomPx + 16)}">${changeWords(factor - 1)}</text>` +
      `<text ${TEXT} text-anchor="end" x="${leftPx - 6}" y="${r(y + 4)}">${changeWords(1 / factor - 1)}</text>`
    );
  });
  return (
    ticks.join('') +
    `<text class="axis-name" font-size="13" fill="#22272b" text-anchor="end" x="${r(leftPx + sidePx)}" y="${r(bottomPx + 36)}">more is drawn →</text>` +
    `<text class="axis-name" font-size="13" fill="#22272b" text-anchor="end" transform="translate(12 ${topPx}) rotate(-90)">less is delivered →</text>`
  );
}

function diagonalsMarkup(geometry: PlaneGeometry): string {
  return [0.5, 1, 2, 4, 8, 16]
    .map((factor) => {
      const line = diagonalOf(geometry, factor);
      if (line === undefined) return '';
      const says = factor === 1 ? 'run time as before' : factor < 1 ? 'run time halved' : `run time × ${factor}`;
      const long = line.x2Px - line.x1Px > 130;
      const label = long ? `<text ${TEXT} font-style="italic" text-anchor="end" transform="translate(${r(line.x2Px - 8)} ${r(line.y2Px - 14)}) rotate(45)">${says}</text>` : '';
      return `<path class="diagonal" stroke="#9aa1a7" stroke-width="1" stroke-dasharray="2 4" d="M${r(line.x1Px)} ${r(line.y1Px)}L${r(line.x2Px)} ${r(line.y2Px)}"/>${label}`;
    })
    .join('');
}

/** One mark for each family, told apart by outline as well as by shade. */
function markOf(point: PlacedPoint): string {
  const x = point.xPx;
  const y = point.yPx;
  if (point.shape === null) return `<circle class="dot-quiet" fill="#9aa1a7" cx="${r(x)}" cy="${r(y)}" r="3"/>`;
  if (point.shape === 'demand') return `<circle class="dot-demand" fill="#005a8e" cx="${r(x)}" cy="${r(y)}" r="5.5"/>`;
  if (point.shape === 'delivery') return `<rect class="dot-delivery" fill="#b34700" x="${r(x - 5)}" y="${r(y - 5)}" width="10" height="10"/>`;
  if (point.shape === 'running') return `<path class="dot-running" fill="#9c4f7c" d="M${r(x)} ${r(y - 6.5)}L${r(x + 6.5)} ${r(y + 5)}H${r(x - 6.5)}z"/>`;
  return `<path class="dot-data" fill="#8f5f00" d="M${r(x)} ${r(y - 6.5)}L${r(x + 6.5)} ${r(y)}L${r(x)} ${r(y + 6.5)}L${r(x - 6.5)} ${r(y)}z"/>`;
}

function pointMarkup(point: PlacedPoint): string {
  const says = `${point.name}: demand ${changeWords(point.demandChange)}, delivery ${changeWords(point.deliveryChange)}${point.beyond ? ' (beyond the axes)' : ''}`;
  const name = escapeMarkup(says);
  const ring = point.beyond ? `<circle class="dot-beyond" fill="none" stroke="#555b61" cx="${r(point.xPx)}" cy="${r(point.yPx)}" r="9"/>` : '';
  return `<a class="dot" href="${escapeMarkup(point.href)}" aria-label="${name}"><title>${name}</title><circle class="dot-target" fill="none" pointer-events="all" cx="${r(point.xPx)}" cy="${r(point.yPx)}" r="12"/>${ring}${markOf(point)}</a>`;
}

/** The plane as markup. Points without a finding are drawn first, so that none hides one that matters. */
export function demandDeliveryPlaneSvg(points: readonly PlanePoint[], widthPx: number): string {
  const shapes = planeShapes(points, widthPx);
  const heightPx = shapes.topPx + shapes.sidePx + 46;
  const ordered = [...shapes.points].sort((a, b) => Number(a.shape !== null) - Number(b.shape !== null) || b.rank - a.rank);
  const labels = shapes.labels.map((label) => `<text class="dot-name" font-size="12" fill="#22272b" text-anchor="${label.anchor}" x="${r(label.xPx)}" y="${r(label.yPx)}" aria-hidden="true">${escapeMarkup(label.text)}</text>`);
  return (
    `<svg class="plane" role="group" aria-label="Demand and delivery of ${points.length} ${points.length === 1 ? 'generator against its own baseline' : 'generators against their own baselines'}" width="${widthPx}" height="${heightPx}" viewBox="0 0 ${widthPx} ${heightPx}" xmlns="http://www.w3.org/2000/svg">` +
    `${axesMarkup(shapes)}${diagonalsMarkup(shapes)}${labels.join('')}${ordered.map(pointMarkup).join('')}</svg>`
  );
}
