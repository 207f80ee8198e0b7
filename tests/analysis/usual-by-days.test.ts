// Issue: what a visit shut, or a bypass fed, says nothing of how a tank is usually drawn from (design, section 5, `valve-left-shut`).
import { describe, expect, test } from 'vitest';
import { type DaysJudged, judgeDays } from '../../analysis/causes/assess.ts';
import type { LeftOut } from '../../analysis/causes/left-out.ts';
import { usualByDays } from '../../analysis/usual-by-days.ts';
import { DEFAULT_ANALYSIS_SETTINGS } from '../../shared/analysis-settings.ts';
import type { DayRow, QuarterValues } from '../../shared/cycle.ts';
import { type Entry, entrySchema } from '../../shared/entry.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { generatorsOf, parseRegistry } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';

const parsed = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone: 'UTC', generators: [{ id: 'b', tankLitres: 100 }] }] }));
if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
const registered = generatorsOf(parsed.registry)[0]!;

/** Forty days of 1 NL/min and rests of an hour and a half at most, then ten in which a valve is shut: a tenth, and rests of 30 h. */
const rows = Array.from({ length: 50 }, (_, day): DayRow => {
  const startMs = day * DAY_MS;
  const demand = (day < 40 ? 1 : 0.1) * (1 + 0.02 * Math.sin(7 * day));
  const quarters = [0, 1, 2, 3].map((index): QuarterValues => ({ startMs: startMs + (index * DAY_MS) / 4, endMs: startMs + ((index + 1) * DAY_MS) / 4, unit: 'NL/min', demand: [Math.log(demand), 0.02], delivery: [3, 0.02], duty: [Math.log(demand / 20), 0.05] }));
  return { generator: 'a/b' as GeneratorKey, day: new Date(startMs).toISOString().slice(0, 10), startMs, endMs: startMs + DAY_MS, provisional: false, source: 'running', coveredS: 86_400, runS: 4320 * demand, restS: 86_400 - 4320 * demand, starts: day < 40 ? 16 : 1, dutyRatio: demand / 20, unit: 'NL/min', demand: { value: demand, se: 0.02 }, delivery: { value: 20, se: 0.2 }, longestRunS: 300, longestRestS: day < 40 ? 5400 : 108_000, cutInKPa: 550, cutOutKPa: 700, nitrogen: null, dischargeKPa: null, feedKPa: null, elementDropKPa: null, burstShare: 0.1 + 0.1 * (day % 2), systemKPa: null, roomC: 20, pipeC: null, humidityPercent: null, holdingRatio: 1, heard: { running: 40, 'tank-pressure': 300 }, quarters };
});
const judged = (entries: readonly Entry[] = []): DaysJudged => judgeDays({ rows, entries, registered, settings: DEFAULT_ANALYSIS_SETTINGS, fills: [], frozen: [], leftOut: [] });
const usual = (days: DaysJudged, unfed: readonly LeftOut[] = []) => usualByDays({ registered, judged: days, unfed });
const visit = entrySchema.parse({ id: 'v', site: 'a', generator: 'b', startedAt: new Date(39.9 * DAY_MS).toISOString(), finishedAt: new Date(40 * DAY_MS).toISOString(), replaced: ['coalescing-element'] });
/** 1 NL/min is 1.07 L/min at 20 °C, which from 100 L are 1.07 % of an atmosphere a minute. */
const FALL_KPA = ((101.325 / 100) * 293.15) / 273.15;

describe('usualByDays()', () => {
  test('takes how fast the tank falls from the days before the last service, and the quiet share of that', () => {
    expect(usual(judged([visit])).fallKPaPerMin! / FALL_KPA).toBeCloseTo(0.98, 1);
    expect(usual(judged()).fallKPaPerMin! / FALL_KPA).toBeCloseTo(0.1, 1);
    expect(usual(judged([visit])).quietShare).toBeCloseTo(0.8, 5);
  });

  test('leaves out when nothing fed the piping, for rests as well, as soon as that is known', () => {
    const days = judged();
    expect(usual(days).fallKPaPerMin! / FALL_KPA).toBeLessThan(0.2);
    const shut: LeftOut = { of: 'supply', fromMs: 39.9 * DAY_MS, toMs: Infinity };
    expect(usual(days, [shut]).fallKPaPerMin! / FALL_KPA).toBeCloseTo(0.98, 1);
    expect(usual(days, [shut])).toMatchObject({ baselineRestS: 5400, usualDayRestS: 5400 });
    expect(usualByDays({ registered, judged: undefined, unfed: [] })).toEqual({ fallKPaPerMin: null, quietShare: null, baselineRestS: 0, usualDayRestS: 0, countedRunS: null });
  });
});
