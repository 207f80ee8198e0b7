// Issue: the steps of a visit in their order, each with its words of care; what is normal here; whether Lull could see a valve.
import { expect, test } from 'vitest';
import { gaugeFromKPa, gaugeWords, kPaFromGauge, typedNumber } from '../../../dashboard/views/gauge-units.ts';
import { generatorHistory, historyCsv } from '../../../dashboard/views/generator-history.ts';
import { linePictureSvg } from '../../../dashboard/views/line-picture-svg.ts';
import { measuredValueWords } from '../../../dashboard/views/measured-words.ts';
import { normalHere } from '../../../dashboard/views/normal-here.ts';
import { valveSight } from '../../../dashboard/views/valve-sight.ts';
import { LEAK_STEPS, SERVICE_STEPS } from '../../../dashboard/views/visit-steps.ts';
import { CARE_ALWAYS, CARE_OF, CARE_VISIT } from '../../../dashboard/views/words-of-care.ts';
import type { Channel } from '../../../shared/channels.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { entrySchema } from '../../../shared/entry.ts';

test('SERVICE_STEPS come in the order that is safe, and nothing is closed before both are told', () => {
  expect(SERVICE_STEPS.map((step) => step.id)).toEqual(['tell', 'as-found', 'time-allowed', 'close-supply', 'power-off', 'tank-valve', 'relieve', 'work', 'restart', 'open-supply', 'valves', 'normal', 'timer', 'second-look']);
  expect(SERVICE_STEPS.find((step) => step.id === 'close-supply')?.care).toContain(CARE_OF.tellFirst);
  expect(SERVICE_STEPS.find((step) => step.id === 'power-off')?.care).toContain(CARE_OF.power);
  expect(SERVICE_STEPS.find((step) => step.id === 'tank-valve')?.care).toContain(CARE_OF.tank);
  expect(SERVICE_STEPS.find((step) => step.id === 'restart')?.does.join(' ')).toMatch(/Close every bleed\..*open the tank valve, power on/);
  expect(LEAK_STEPS[0]).toBe(SERVICE_STEPS[0]);
  expect(LEAK_STEPS.map((step) => step.id)).toEqual(['tell', 'as-found', 'tank-side', 'hold-tests', 'places', 'valves', 'normal', 'second-look']);
});

test('each word of care of a visit stands at a step that it belongs to', () => {
  const said = new Set([...SERVICE_STEPS, ...LEAK_STEPS].flatMap((step) => step.care));
  expect(Object.values(CARE_OF).filter((words) => !said.has(words))).toEqual([]);
  expect(new Set([...CARE_ALWAYS, ...CARE_VISIT]).size).toBe(CARE_ALWAYS.length + CARE_VISIT.length);
});

test('valveSight() never says that Lull sees what it does not', () => {
  const all = new Set<Channel>(['running', 'tank-pressure', 'system-pressure', 'discharge-pressure', 'feed-pressure', 'nitrogen']);
  const seen = (name: string, channels: ReadonlySet<Channel> = all): boolean => valveSight(name, channels).sees;
  expect(['supply to riser 1', 'sample bleed', 'bypass of the regulator', 'tank outlet', 'feed valve'].map((name) => seen(name))).toEqual([true, true, true, true, true]);
  expect(['water control valve', 'dry valve trim', 'accelerator', 'V-17'].map((name) => seen(name))).toEqual([false, false, false, false]);
  expect(['supply to riser 1', 'sample bleed', 'bypass', 'tank outlet', 'feed valve', 'drain'].map((name) => seen(name, new Set()))).toEqual([false, false, false, false, false, false]);
  expect(seen('bypass', new Set<Channel>(['running']))).toBe(false);
});

test('normalHere() gives medians of usual days and leaves out days under test', () => {
  const day = (at: number, more: Partial<DayRow>): DayRow => ({ startMs: at, provisional: false, holdingRatio: 1, coveredS: 86_400, runS: 8640, restS: 77_760, starts: 24, dutyRatio: 0.1, unit: 'NL/min', demand: { value: 4, se: 0.1 }, cutInKPa: 550, cutOutKPa: 700, systemKPa: null, elementDropKPa: null, nitrogen: { value: 0.985, se: 0.001 }, ...more }) as DayRow;
  const days = [day(1, {}), day(2, { dutyRatio: 0.9, holdingRatio: 0.1 }), day(3, { dutyRatio: 0.12 }), day(4, { dutyRatio: 0.14, cutInKPa: null }), day(5, { dutyRatio: 0.5, provisional: true })];
  expect(normalHere(days)).toEqual({ days: 3, dutyRatio: 0.12, meanRunMin: 6, meanRestMin: 54, cutInKPa: 550, cutOutKPa: 700, systemKPa: null, elementDropKPa: null, nitrogenPercent: 98.5, demandNLPerMin: 4 });
  expect(normalHere([])).toMatchObject({ days: 0, dutyRatio: null });
});

test('gauges are read in their own unit and kept in kPa', () => {
  // Source: UCUM, [psi] = 6894.757293168361 Pa.
  expect(kPaFromGauge(40, 'psi')).toBeCloseTo(275.790291726734, 9);
  for (const unit of ['kPa', 'bar', 'psi'] as const) expect(gaugeFromKPa(kPaFromGauge(3.21, unit), unit)).toBeCloseTo(3.21, 12);
  expect([gaugeWords(240, 'bar'), gaugeWords(240, 'psi'), gaugeWords(-3, 'kPa')]).toEqual(['2.40\u00a0bar', '34.8\u00a0psi', '−3\u00a0kPa']);
  expect([typedNumber('41,5'), typedNumber(' '), typedNumber('4o'), typedNumber(undefined)]).toEqual([41.5, null, undefined, null]);
  expect(measuredValueWords('holdFallKPaPerHour.riser-2', 1.5)).toBe('fall in the hold test, riser-2 1.5\u00a0kPa/h');
});

test('linePictureSvg() leaves gaps open, marks visits, and sets in text as text', () => {
  const picture = { id: 'x', title: 'Duty <b>ratio</b>', unit: '%', fromMs: 0, toMs: 86_400_000, startAtZero: true, leastSpan: 5, series: [{ label: 'duty', shade: 'strong' as const, stepped: false, points: [{ x: 0, y: 1 }, { x: 1e7, y: 2 }, { x: 2e7, y: Number.NaN }, { x: 3e7, y: 3 }] }], marks: [{ kind: 'visit' as const, atMs: 5e7, says: 'visit' }, { kind: 'visit' as const, atMs: 9e9, says: 'beyond' }] };
  const svg = linePictureSvg(picture, { widthPx: 300, heightPx: 100 }, 'UTC');
  expect(/class="line-strong"[^>]* d="([^"]+)"/.exec(svg)?.[1]?.match(/M/g)).toHaveLength(2);
  expect(svg.match(/mark-visit/g)).toHaveLength(1);
  expect(svg).toContain('Duty &lt;b&gt;ratio&lt;/b&gt;');
  expect(svg).not.toContain('style=');
});

test('generatorHistory() says when something became known much later than it was done, and is safe in a spreadsheet', () => {
  const entry = (id: string, recordedAt: string, note: string) => entrySchema.parse({ id, site: 'invented-1', generator: 'gen-1', startedAt: '2026-11-01T09:00:00Z', finishedAt: '2026-11-01T10:00:00Z', recordedAt, replaced: ['drain'], note });
  const lines = generatorHistory({ entries: [entry('b', '2026-11-03T10:00:00Z', '=1+1'), entry('a', '2026-11-01T10:05:00Z', 'on the spot')], findings: [], actions: [], records: [] });
  expect(lines.map((line) => line.says)).toEqual(['service; replaced: drain; =1+1; recorded 2026-11-03T10:00:00Z', 'service; replaced: drain; on the spot']);
  expect(historyCsv([{ at: '2026-11-01T09:00:00Z', kind: 'entry', says: '=1+1', by: null, id: 'a' }])).toBe("at,kind,what,by,id\r\n2026-11-01T09:00:00Z,entry,'=1+1,,a\r\n");
});
