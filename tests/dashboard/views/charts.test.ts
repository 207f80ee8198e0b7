// Issue: gaps stay open in every chart, units stand beside numbers, and a chart is plain data.
import { expect, test } from 'vitest';
import { channelChart, gapMsOf } from '../../../dashboard/views/channel-chart.ts';
import { daysCharts } from '../../../dashboard/views/days-chart.ts';
import { chartConfigOf, pictureSays, verticalSpan } from '../../../dashboard/views/line-picture.ts';
import type { ReadingsAnswer } from '../../../shared/api.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';

const DAY_MS = 86_400_000;
const START_MS = Date.parse('2026-10-01T00:00:00Z');

function day(index: number, changes: Partial<DayRow> = {}): DayRow {
  const startMs = START_MS + index * DAY_MS;
  return {
    generator: 'quay-7/gen-1' as GeneratorKey, day: new Date(startMs).toISOString().slice(0, 10), startMs, endMs: startMs + DAY_MS, provisional: false, source: 'running', coveredS: 86_400, runS: 8640, restS: 77_760, starts: 20, dutyRatio: 0.1, unit: 'NL/min',
    demand: { value: 3, se: 0.1 }, delivery: { value: 30, se: 1 }, longestRunS: 500, longestRestS: 5000, cutInKPa: null, cutOutKPa: null, nitrogen: null, dischargeKPa: null, feedKPa: null, elementDropKPa: null, systemKPa: null, roomC: null, pipeC: null, humidityPercent: null, holdingRatio: 1, heard: {}, ...changes,
  };
}

const PALETTE = { strong: '#111', soft: '#222', second: '#333', third: '#444', band: '#555', grid: '#666', text: '#777', onset: '#888', visit: '#999', limit: '#aaa' };

test('daysCharts() breaks the line at a day without a value and at a day that is not there', () => {
  const [duty] = daysCharts([day(0), day(1, { dutyRatio: null }), day(2), day(5)], []);
  expect(duty!.series[0]!.points.map((point) => point.y)).toEqual([10, Number.NaN, 10, Number.NaN, 10]);
});

test('daysCharts() leaves out what was never sent and never mixes units of demand', () => {
  const pictures = daysCharts([day(0, { unit: 'relative', demand: { value: 0.02, se: 0 } }), day(1)], []);
  expect(pictures.map((picture) => picture.id)).toEqual(['duty-ratio', 'demand', 'delivery']);
  expect(pictures.find((picture) => picture.id === 'demand')!.series[0]!.points.map((point) => point.y)).toEqual([Number.NaN, 3]);
  // One day in another unit, as that of a power cut, doesn't leave the others open.
  const odd = daysCharts([day(0), day(1), day(2), day(3, { unit: 'relative', demand: { value: 0.02, se: 0 } })], []).find((one) => one.id === 'demand');
  expect([odd?.unit, odd?.series[0]?.points.map((point) => Number.isNaN(point.y))]).toEqual(['NL/min', [false, false, false, true]]);
  expect(daysCharts([], [])).toEqual([]);
});

test('chartConfigOf() is plain data without animation, points or lines over gaps', () => {
  const [duty] = daysCharts([day(0), day(2)], []);
  const config = chartConfigOf(duty!, PALETTE);
  expect(JSON.parse(JSON.stringify(config.options))).toEqual(config.options);
  expect(config.options).toMatchObject({ animation: false, parsing: false, normalized: true });
  expect(config.data.datasets[0]).toMatchObject({ pointRadius: 0, spanGaps: false });
});

const answer = (points: ReadingsAnswer['points'], changes: Partial<ReadingsAnswer> = {}): ReadingsAnswer => ({ site: 'quay-7', generator: 'gen-1', channel: 'tank-pressure', unit: 'kPa', label: 'tank pressure', fromAt: '2026-10-01T00:00:00Z', toAt: '2026-10-02T00:00:00Z', bucketMs: 60_000, points, ...changes });

test('channelChart() opens a gap where reports stop, not where a bucket is finer than the reports', () => {
  const every5Min = Array.from({ length: 10 }, (_, index) => [START_MS + index * 300_000, 600, 610, 620] as const);
  expect(channelChart(answer(every5Min)).series[0]!.points.filter((point) => Number.isNaN(point.y))).toEqual([]);
  const late = [...every5Min, [START_MS + 9 * 300_000 + 3_600_000, 600, 610, 620] as const];
  const { series } = channelChart(answer(late));
  expect(series[0]!.points.filter((point) => Number.isNaN(point.y))).toHaveLength(1);
  expect(series[1]!.floor!.filter((point) => Number.isNaN(point.y))).toHaveLength(1);
});

test('gapMsOf() lets a state hold 75 min, as it is sent on change and hourly', () => {
  const points = [[START_MS, 1, 1, 1], [START_MS + 60_000, 0, 0, 0], [START_MS + 120_000, 1, 1, 1]] as const;
  expect(gapMsOf(answer(points, { unit: '0/1' }))).toBeGreaterThanOrEqual(75 * 60_000);
  expect(gapMsOf(answer(points))).toBe(180_000);
});

test('channelChart() shows ratios in per cent and hour meters in hours', () => {
  expect(channelChart(answer([[START_MS, 0.98, 0.981, 0.982]], { channel: 'nitrogen', unit: 'ratio' })).series[0]!.points[0]!.y).toBeCloseTo(98.1, 9);
  const meter = channelChart(answer([[START_MS, 7200, 7200, 7200]], { channel: 'run-time', unit: 's' }));
  expect([meter.series[0]!.points[0]!.y, meter.unit]).toEqual([2, 'h']);
});

test('verticalSpan() does not draw the wobble of a sensor as a cliff', () => {
  const [picture] = daysCharts([day(0, { nitrogen: { value: 0.9826, se: 0 } }), day(1, { nitrogen: { value: 0.983, se: 0 } })], []).filter((one) => one.id === 'nitrogen');
  const { min, max } = verticalSpan(picture!);
  expect(max - min).toBeGreaterThanOrEqual(1);
});

test('pictureSays() names first and last value with the unit', () => {
  const [duty] = daysCharts([day(0), day(1, { dutyRatio: 0.25 })], []);
  expect(pictureSays(duty!)).toBe('Duty ratio. duty ratio: first 10.0 %, last 25.0 %.');
});
