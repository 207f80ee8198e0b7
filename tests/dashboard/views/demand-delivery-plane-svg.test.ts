// Issue: on the demand-delivery plane right is more drawn, up is less delivered, and equal run time lies on diagonals.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { demandDeliveryPlaneSvg, diagonalOf, type PlanePoint, planeShapes } from '../../../dashboard/views/demand-delivery-plane-svg.ts';

const point = (key: string, demandChange: number, deliveryChange: number, rank = 1): PlanePoint => ({ key, name: `Site ${key}`, href: `/generators/${key}/gen-1`, demandChange, deliveryChange, shape: 'demand', rank });
const WIDTH_PX = 640;

test('planeShapes() puts more drawn to the right and less delivered up', () => {
  const { points } = planeShapes([point('as-before', 0, 0), point('leak', 0.6, 0), point('loading', 0, -0.4)], WIDTH_PX);
  const [before, leak, loading] = points;
  expect(leak!.xPx).toBeGreaterThan(before!.xPx);
  expect(leak!.yPx).toBe(before!.yPx);
  expect(loading!.yPx).toBeLessThan(before!.yPx);
  expect(loading!.xPx).toBe(before!.xPx);
});

test('points of equal change in run time lie on one diagonal of the square', () => {
  const demand = fc.double({ min: 1, max: 1.9, noNaN: true });
  fc.assert(
    fc.property(demand, demand, fc.double({ min: 1, max: 2, noNaN: true }), (first, second, factor) => {
      // duty ratio = demand / delivery, so delivery = demand / factor keeps the run time at `factor`.
      const shapes = planeShapes([point('a', first - 1, first / factor - 1), point('b', second - 1, second / factor - 1)], WIDTH_PX);
      const [a, b] = shapes.points;
      if (a!.beyond || b!.beyond) return;
      expect(a!.xPx - a!.yPx).toBeCloseTo(b!.xPx - b!.yPx, 6);
      const line = diagonalOf(shapes, factor);
      if (line !== undefined) expect(line.x1Px - line.y1Px).toBeCloseTo(a!.xPx - a!.yPx, 6);
    }),
  );
});

test('every point stands inside the square; one that does not fit is at the edge and says so', () => {
  const change = fc.double({ min: -1, max: 50, noNaN: true });
  fc.assert(
    fc.property(fc.array(fc.tuple(change, change), { maxLength: 30 }), (changes) => {
      const shapes = planeShapes(changes.map(([demand, delivery], index) => point(String(index), demand, delivery)), WIDTH_PX);
      for (const placed of shapes.points) {
        expect(placed.xPx).toBeGreaterThanOrEqual(shapes.leftPx - 1e-6);
        expect(placed.xPx).toBeLessThanOrEqual(shapes.leftPx + shapes.sidePx + 1e-6);
        expect(placed.yPx).toBeGreaterThanOrEqual(shapes.topPx - 1e-6);
        expect(placed.yPx).toBeLessThanOrEqual(shapes.topPx + shapes.sidePx + 1e-6);
      }
    }),
  );
  expect(planeShapes([point('shut', 0, -1)], WIDTH_PX).points[0]!.beyond).toBe(true);
});

test('a long name loses the end of its site, not its generator', () => {
  const named = (name: string): string => planeShapes([{ ...point('a', 0.5, -0.2), name }], WIDTH_PX).labels[0]!.text;
  expect(named('Larkfield county archive, Generator 2')).toBe('Larkfield county arc…, Generator 2');
  expect(named('Quay 7 cold store, Generator 1')).toBe('Quay 7 cold store, Generator 1');
  expect(named(`${'x'.repeat(60)}`)).toBe(`${'x'.repeat(33)}…`);
});

test('names never cover one another, the foremost are named first, and all stay inside', () => {
  const crowd = Array.from({ length: 40 }, (_, index) => point(`crowd-${index}`, 0.5 + index / 200, -0.2 + index / 300, index + 1));
  const { labels, leftPx, sidePx } = planeShapes(crowd, WIDTH_PX);
  expect(labels.length).toBeGreaterThan(0);
  expect(labels.length).toBeLessThanOrEqual(14);
  expect(labels[0]!.key).toBe('crowd-0');
  const boxes = labels.map((label) => ({ x0: label.anchor === 'start' ? label.xPx : label.xPx - label.text.length * 6.6, x1: label.anchor === 'start' ? label.xPx + label.text.length * 6.6 : label.xPx, y: label.yPx }));
  for (const [index, box] of boxes.entries()) {
    expect(box.x0).toBeGreaterThanOrEqual(leftPx);
    expect(box.x1).toBeLessThanOrEqual(leftPx + sidePx);
    for (const other of boxes.slice(index + 1)) expect(box.x0 < other.x1 && other.x0 < box.x1 && Math.abs(box.y - other.y) < 14).toBe(false);
  }
});

test('a name is text, never markup, and every point is a link that says its numbers', () => {
  const svg = demandDeliveryPlaneSvg([{ ...point('x', 0.62, -0.04), name: '<b>"Quay" & co</b>' }], WIDTH_PX);
  expect(svg).not.toContain('<b>');
  expect(svg).toContain('href="/generators/x/gen-1" aria-label="&lt;b&gt;&quot;Quay&quot; &amp; co&lt;/b&gt;: demand +62\u00a0%, delivery −4\u00a0%"');
  expect(svg).not.toContain(' style=');
});
