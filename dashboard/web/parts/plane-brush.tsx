import { useRef, useState } from 'preact/hooks';
import type { ComponentChildren } from 'preact';
import type { OverviewRow } from '../../../shared/api.ts';
import { drawnLn, type PlaneGeometry, undeliveredLn, xPxOf, yPxOf } from '../../views/demand-delivery-plane-svg.ts';
import { setQuery } from '../router.ts';

/** A part of the plane, ln: how much more is drawn, how much less is delivered. */
export type Brush = { readonly fromX: number; readonly toX: number; readonly fromY: number; readonly toY: number };

/** The marked part stands in the address as four numbers. */
export function readBrush(query: URLSearchParams): Brush | undefined {
  const numbers = (query.get('part') ?? '').split('_').map(Number);
  const [fromX, toX, fromY, toY] = numbers;
  if (numbers.length !== 4 || numbers.some((one) => !Number.isFinite(one))) return undefined;
  return { fromX: fromX!, toX: toX!, fromY: fromY!, toY: toY! };
}

export function isInBrush(row: OverviewRow, brush: Brush): boolean {
  if (row.demandChange === null || row.deliveryChange === null) return false;
  const [x, y] = [drawnLn({ demandChange: row.demandChange }), undeliveredLn({ deliveryChange: row.deliveryChange })];
  return x >= brush.fromX && x <= brush.toX && y >= brush.fromY && y <= brush.toY;
}

function keepBrush(brush: Brush | undefined): void {
  setQuery({ part: brush === undefined ? '' : [brush.fromX, brush.toX, brush.fromY, brush.toY].map((one) => String(Math.round(one * 1000) / 1000)).join('_') });
}

const FAR = 9;
/** The same for the keyboard: the parts that a desk asks for. ln 1.15 = 15 % more, and so on. */
const PARTS: readonly (readonly [name: string, brush: Brush])[] = [
  ['More is drawn', { fromX: Math.log(1.15), toX: FAR, fromY: -FAR, toY: Math.log(1.1) }],
  ['Less is delivered', { fromX: -FAR, toX: Math.log(1.15), fromY: Math.log(1.1), toY: FAR }],
  ['Both', { fromX: Math.log(1.15), toX: FAR, fromY: Math.log(1.1), toY: FAR }],
  ['Less is drawn', { fromX: -FAR, toX: Math.log(0.8), fromY: -FAR, toY: FAR }],
];

const isSame = (a: Brush, b: Brush): boolean => (['fromX', 'toX', 'fromY', 'toY'] as const).every((name) => Math.abs(a[name] - b[name]) < 0.002);

export function BrushButtons(props: { readonly brush: Brush | undefined; readonly count: number }) {
  const { brush } = props;
  return (
    <div class="views" role="group" aria-label="Part of the plane">
      {PARTS.map(([name, part]) => {
        const on = brush !== undefined && isSame(brush, part);
        return (
          <button key={name} type="button" aria-pressed={on} onClick={() => keepBrush(on ? undefined : part)}>
            {name}
          </button>
        );
      })}
      {brush !== undefined && (
        <button type="button" onClick={() => keepBrush(undefined)}>
          Whole plane
        </button>
      )}
      <span class="hold" role="status">
        {brush === undefined ? 'Drag over the plane to mark a part of it; the list below follows.' : `${props.count} in the marked part stand in the list below.`}
      </span>
    </div>
  );
}

/** Over the picture: a drag marks a part, which stays drawn. Marks stay links: a press without a drag goes to its generator. */
export function BrushArea(props: { readonly geometry: PlaneGeometry; readonly brush: Brush | undefined; readonly children: ComponentChildren }) {
  const { geometry, brush } = props;
  const area = useRef<HTMLDivElement>(null);
  const [drag, setDrag] = useState<{ readonly x0: number; readonly y0: number; readonly x1: number; readonly y1: number } | undefined>(undefined);
  const dragged = useRef(false);
  const place = (event: PointerEvent): readonly [number, number] => {
    const box = area.current!.getBoundingClientRect();
    const clamp = (value: number, from: number): number => Math.min(from + geometry.sidePx, Math.max(from, value));
    return [clamp(event.clientX - box.left, geometry.leftPx), clamp(event.clientY - box.top, geometry.topPx)];
  };
  const lnOfX = (px: number): number => geometry.lowLn + ((px - geometry.leftPx) / geometry.sidePx) * (geometry.highLn - geometry.lowLn);
  const lnOfY = (px: number): number => geometry.lowLn + ((geometry.topPx + geometry.sidePx - px) / geometry.sidePx) * (geometry.highLn - geometry.lowLn);
  const shown = drag ?? (brush === undefined ? undefined : { x0: xPxOf(geometry, Math.max(geometry.lowLn, brush.fromX)), x1: xPxOf(geometry, Math.min(geometry.highLn, brush.toX)), y0: yPxOf(geometry, Math.min(geometry.highLn, brush.toY)), y1: yPxOf(geometry, Math.max(geometry.lowLn, brush.fromY)) });
  return (
    <div
      ref={area}
      class="brush-area"
      onPointerDown={(event) => {
        if (event.button !== 0 || event.pointerType === 'touch') return;
        const [x, y] = place(event);
        dragged.current = false;
        setDrag({ x0: x, y0: y, x1: x, y1: y });
      }}
      onPointerMove={(event) => {
        if (drag === undefined) return;
        const [x1, y1] = place(event);
        // Only now is it a drag and not a press on a mark.
        if (!dragged.current && Math.abs(x1 - drag.x0) + Math.abs(y1 - drag.y0) > 8) {
          dragged.current = true;
          area.current?.setPointerCapture(event.pointerId);
        }
        setDrag({ ...drag, x1, y1 });
      }}
      onPointerUp={() => {
        const done = drag;
        setDrag(undefined);
        if (done === undefined || !dragged.current) return;
        const [xs, ys] = [[lnOfX(done.x0), lnOfX(done.x1)].sort((a, b) => a - b), [lnOfY(done.y0), lnOfY(done.y1)].sort((a, b) => a - b)];
        // What stands at the edge lies beyond it, and belongs to a part that reaches the edge.
        const edge = (ln: number): number => (ln >= geometry.highLn - 1e-6 ? FAR : ln <= geometry.lowLn + 1e-6 ? -FAR : ln);
        keepBrush({ fromX: edge(xs[0]!), toX: edge(xs[1]!), fromY: edge(ys[0]!), toY: edge(ys[1]!) });
      }}
      onPointerCancel={() => setDrag(undefined)}
      onDragStart={(event) => event.preventDefault()}
      onClickCapture={(event) => {
        if (!dragged.current) return;
        dragged.current = false;
        event.preventDefault();
        event.stopPropagation();
      }}
    >
      {props.children}
      {shown !== undefined && <div class="brush" style={{ left: `${Math.min(shown.x0, shown.x1)}px`, top: `${Math.min(shown.y0, shown.y1)}px`, width: `${Math.abs(shown.x1 - shown.x0)}px`, height: `${Math.abs(shown.y1 - shown.y0)}px` }} />}
    </div>
  );
}
