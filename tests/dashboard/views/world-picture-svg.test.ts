// Issue: "Worlds", one picture each of the worlds in which it does worst: truth, findings, watched series, rest band on one axis.
import { expect, test } from 'vitest';
import { roundTicks, usualSpan } from '../../../dashboard/views/world-panel-svg.ts';
import { type PicturedWorld, worldPanels, worldPictureSvg } from '../../../dashboard/views/world-picture-svg.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { DAY_MS } from '../../../shared/time.ts';

const START_MS = Date.UTC(2026, 0, 1);
const DAYS = 30;
const dayName = (index: number): string => new Date(START_MS + index * DAY_MS).toISOString().slice(0, 10);
const iso = (day: number): string => new Date(START_MS + day * DAY_MS).toISOString();
/** From day 15 on a tenth less is delivered, and it is seen a little lower than it is. */
const delivered = (index: number): number => (index < 15 ? 20 : 18);
const days = Array.from({ length: DAYS }, (_, index): DayRow => ({
  generator: 'a/g' as GeneratorKey, day: dayName(index), startMs: START_MS + index * DAY_MS, endMs: START_MS + (index + 1) * DAY_MS, provisional: false, source: 'running', coveredS: 86_400, runS: 8640, restS: 77_760, starts: 20,
  dutyRatio: 0.1, unit: 'NL/min', demand: { value: 2, se: 0.1 }, delivery: { value: delivered(index) - 1, se: 0.3 }, longestRunS: 500, longestRestS: 4000, cutInKPa: 550, cutOutKPa: 700, nitrogen: null, dischargeKPa: null, feedKPa: null, elementDropKPa: null,
  systemKPa: null, roomC: null, pipeC: null, humidityPercent: null, holdingRatio: 1, heard: {},
}));
const plant = (make: (index: number) => number, pure: (index: number) => number) => {
  const all = <T>(one: (index: number) => T): T[] => Array.from({ length: DAYS }, (_, index) => one(index));
  return { dutyRatio: all(() => 0.1), demandNLPerMin: all(() => 2), deliveryNLPerMin: all(make), nitrogen: all(pure) };
};
const pictured: PicturedWorld = {
  world: 'the world of seed 13', reportEveryS: 300, days, startMs: START_MS, was: plant(delivered, (index) => (index < 15 ? 0.985 : 0.98)), without: plant(() => 20, () => 0.985),
  one: {
    site: 'a', generator: 'g', zone: 'UTC', channels: ['running', 'tank-pressure'], days: days.map(({ day }) => ({ day, runS: 432, restS: 3888 })), upsets: [], visits: [iso(24)],
    faults: [{ cause: 'membrane-decline', severity: 'marked', onset: iso(15), end: null, outcome: 'missed', causeRight: null, said: null, delayH: null }],
    findings: [{ openedAt: iso(18), closedAt: null, cause: 'leak', among: null, probability: 0.8, outcome: 'false', because: [] }],
  },
};

test('worldPanels() lays the plant’s own book over what was seen, and draws nitrogen that isn’t sent where a fault took of it', () => {
  const panels = worldPanels(pictured);
  expect(panels.map((panel) => [panel.id, panel.series.map((series) => series.label)])).toEqual([
    ['duty-ratio', ['as seen', 'without its faults']],
    ['demand', ['as seen', 'truly', 'without its faults']],
    ['delivery', ['as seen', 'truly', 'without its faults']],
    ['pressures', ['tank at stop', 'tank at start']],
    ['nitrogen', ['truly', 'without its faults']],
  ]);
  expect(panels[2]!.series.map((series) => series.points[20])).toEqual([{ x: START_MS + 20.5 * DAY_MS, y: 17 }, { x: START_MS + 20.5 * DAY_MS, y: 18 }, { x: START_MS + 20.5 * DAY_MS, y: 20 }]);
  const sound = plant(() => 20, () => 0.985);
  expect(worldPanels({ ...pictured, was: sound, without: sound }).map((panel) => panel.id)).not.toContain('nitrogen');
});

test('worldPanels() draws relative demand and delivery without figures in other units', () => {
  const relative = worldPanels({ ...pictured, days: days.map((day) => ({ ...day, unit: 'relative' as const })) }).find((panel) => panel.id === 'delivery');
  expect(relative?.series.map((series) => series.label)).toEqual(['as seen']);
});

test('worldPictureSvg() puts truth, finding, visit and band on one axis, and its words inside the picture', () => {
  const svg = worldPictureSvg(pictured);
  // 824 px for 30 days from 62 px on: day 15 stands at 474, day 18 at 556.4, day 24 at 721.2.
  expect(svg).toMatch(/class="replay-truth"[^>]* x="474"/);
  expect(svg).toMatch(/class="panel-truth"[^>]* x="474"[^>]* width="412"/);
  expect(svg.match(/class="panel-finding" stroke="#b34700" stroke-width="2" d="M556\.4 /g)).toHaveLength(5);
  expect(svg).toContain('M721.2 ');
  expect(svg).toMatch(/class="band-run"[^>]* d="M62 /);
  expect(svg).toContain('True: Membrane declining, marked: missed.');
  expect(svg).toContain('Everything here is simulated.');
  expect(svg).not.toContain('<title>1 Jan');
  const [, width, height] = /^<svg [^>]*width="(\d+)" height="(\d+)"/.exec(svg)!;
  for (const [, x, words] of svg.matchAll(/<text(?![^>]*text-anchor)[^>]* x="([\d.]+)"[^>]*>([^<]*)</g)) expect(Number(x) + words!.length * 6.5, words).toBeLessThanOrEqual(Number(width));
  for (const [, y, rest] of svg.matchAll(/<text[^>]* y="([\d.]+)"([^>]*)>/g)) expect(Number(y), rest).toBeLessThan(Number(height));
  expect(worldPictureSvg({ ...pictured, one: { ...pictured.one, channels: ['<b>'] } })).not.toContain('<b>');
});

test('worldPictureSvg() says so where runs and rests are not known', () => {
  expect(worldPictureSvg({ ...pictured, one: { ...pictured.one, days: pictured.one.days.map(({ day }) => ({ day, runS: null, restS: null })) } })).toContain('it sends no run state');
});

test('usualSpan() lets no odd day flatten the others, and roundTicks() names three to five round numbers', () => {
  const points = Array.from({ length: 300 }, (_, x) => ({ x, y: x === 7 ? 500 : 20 + (x % 3) }));
  const span = usualSpan({ id: 'a', title: 'a', unit: 'kPa', fromMs: 0, toMs: 300, startAtZero: false, leastSpan: 1, series: [{ label: 'a', shade: 'strong', stepped: false, points }], marks: [] });
  expect([span.min, span.max]).toEqual([expect.closeTo(19.88, 6), expect.closeTo(22.12, 6)]);
  const says = (min: number, max: number): string => roundTicks(min, max).map((tick) => tick.says).join(' ');
  expect([says(0, 8.5), says(17.7, 22.3), says(97.5, 98.6), says(-2, 34), says(0, 1.62), says(-15, -5)]).toEqual(['0 2 4 6 8', '18 20 22', '97.5 98.0 98.5', '0 10 20 30', '0.0 0.5 1.0 1.5', '−15 −10 −5']);
});
