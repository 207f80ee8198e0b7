// Issue: "Screens for four people", settings: units of display, fields of the registry, and what a change changes. Conversions: psi from pound, gravity and inch (exact); °F from its definition.
import * as fc from 'fast-check';
import { afterEach, describe, expect, test } from 'vitest';
import type { LinePicture } from '../../../dashboard/views/line-picture.ts';
import { measuredValueWords } from '../../../dashboard/views/measured-words.ts';
import { valueWords } from '../../../dashboard/views/number-words.ts';
import { fieldChangeWords, siteFieldChanges } from '../../../dashboard/views/registry-changes.ts';
import { fieldText, fieldUnit, type FormField, GENERATOR_FIELDS, withField } from '../../../dashboard/views/registry-fields.ts';
import { inShownUnits } from '../../../dashboard/views/shown-picture.ts';
import { inKeptUnit, inShownUnit, KEPT_UNITS, PRESSURE_UNITS, sentenceInShownUnits, showIn, shownUnit, TEMPERATURE_UNITS } from '../../../dashboard/views/shown-units.ts';
import { type GeneratorRecord, generatorSchema, siteSchema } from '../../../shared/registry.ts';

const NBSP = '\u00a0';
afterEach(() => showIn(KEPT_UNITS));

describe('shown units', () => {
  test('inShownUnit() turns kPa and °C into what a person wants, and leaves all else', () => {
    const american = { pressure: 'psi', temperature: '°F' } as const;
    expect(inShownUnit(101.325, 'kPa', american)).toBeCloseTo(14.695_948_775, 8);
    expect(inShownUnit(700, 'kPa', { ...KEPT_UNITS, pressure: 'bar' })).toBe(7);
    expect([-40, 0, 100].map((celsius) => inShownUnit(celsius, '°C', american))).toEqual([-40, 32, 212]);
    expect(inShownUnit(28, 'NL/min', american)).toBe(28);
    expect([shownUnit('kPa', american), shownUnit('°C', american), shownUnit('A', american)]).toEqual(['psi', '°F', 'A']);
  });

  test('inKeptUnit() is the way back, in every pair of units', () => {
    fc.assert(fc.property(fc.double({ min: -1e4, max: 1e4, noNaN: true }), fc.constantFrom(...PRESSURE_UNITS), fc.constantFrom(...TEMPERATURE_UNITS), fc.constantFrom('kPa', '°C', 's'), (value, pressure, temperature, unit) => {
      const units = { pressure, temperature };
      expect(inKeptUnit(inShownUnit(value, unit, units), unit, units)).toBeCloseTo(value, 8);
    }));
  });

  test('valueWords() shows every value in the units that were chosen', () => {
    expect(valueWords(652, 'kPa')).toBe(`652${NBSP}kPa`);
    showIn({ pressure: 'bar', temperature: '°F' });
    expect(valueWords(652, 'kPa')).toBe(`6.52${NBSP}bar`);
    expect(valueWords(18.34, '°C')).toBe(`65.0${NBSP}°F`);
    expect(valueWords(0.983, 'ratio')).toBe(`98.3${NBSP}%`);
    showIn({ pressure: 'psi', temperature: '°C' });
    expect(valueWords(240, 'kPa')).toBe(`34.8${NBSP}psi`);
  });
});

test('sentenceInShownUnits() turns the pressures of a sentence, spans and rates too, and nothing else', () => {
  const text = 'It falls by 8.5 kPa/h from 240 to 180 kPa within 8.9 h; 1,034.2 kPa at \u221212 °C, −3 kPa below, riser 2, 0.37 mm, 18 %.';
  expect(sentenceInShownUnits(text)).toBe(text);
  showIn({ pressure: 'bar', temperature: '°F' });
  expect(sentenceInShownUnits(text)).toBe(`It falls by 0.085${NBSP}bar/h from 2.4 to 1.8${NBSP}bar within 8.9 h; 10.3${NBSP}bar at \u221212 °C, −0.03${NBSP}bar below, riser 2, 0.37 mm, 18 %.`);
});

describe('fields of a generator', () => {
  const generator = generatorSchema.parse({ id: 'gen-1', tankLitres: 115, cutInKPa: 550, cutOutKPa: 700 });
  const fields = GENERATOR_FIELDS.flatMap((one) => one.fields);
  const field = (name: string): FormField => fields.find((one) => one.path.join('.') === name)!;
  const set = (name: string, text: string): GeneratorRecord => {
    const after = withField(generator, field(name), text);
    if ('wrong' in after) throw new Error(after.wrong);
    return after;
  };

  test('each plain field of the registry is in the form once', () => {
    const own = new Set(['id', 'fitted', 'channels', 'risers', 'valves']);
    const plain = Object.keys(generatorSchema.shape).filter((name) => !own.has(name)).sort();
    expect([...new Set(fields.map((one) => one.path[0]!))].sort()).toEqual(plain);
    expect(Object.keys(generatorSchema.shape.limits.parse({})).sort()).toEqual(fields.filter((one) => one.path[0] === 'limits').map((one) => String(one.path[1])).sort());
  });

  test('fieldText() and withField() speak the units that were chosen, and an untouched field keeps its very value', () => {
    showIn({ pressure: 'psi', temperature: '°F' });
    expect([fieldText(generator, field('cutInKPa')), fieldUnit(field('cutInKPa'))]).toEqual(['79.7708', 'psi']);
    expect(withField(generator, field('cutInKPa'), '79.7708')).toBe(generator);
    expect(set('cutInKPa', '80').cutInKPa).toBeCloseTo(551.58, 2);
    expect(fieldText(generator, field('limits.dutyRatio'))).toBe('50');
    expect(set('limits.dutyRatio', '35').limits).toEqual({ ...generator.limits, dutyRatio: 0.35 });
    expect(set('nitrogenLimit', '98,5').nitrogenLimit).toBe(0.985);
  });

  test('withField() takes a field away when it is emptied, and says what is wrong', () => {
    expect('tankLitres' in set('tankLitres', ' ')).toBe(false);
    expect(set('outOfService', 'true').outOfService).toBe(true);
    expect(set('name', ' East ').name).toBe('East');
    expect(set('serviceEvery.runHours', '').serviceEvery).toEqual({ days: 365 });
    expect(withField(generator, field('nitrogenLimit'), '')).toEqual({ wrong: 'Least nitrogen must not be empty.' });
    expect(withField(generator, field('tankLitres'), 'big')).toEqual({ wrong: 'Nitrogen tank must be a number.' });
  });
});

test('siteFieldChanges() names each field by where it is, matches lists by name, and says nothing of what is the same', () => {
  const before = siteSchema.parse({ id: 'quay-7', generators: [{ id: 'gen-1', valves: [{ name: 'V1', normal: 'open' }], risers: [{ id: 'r1', setKPa: 240 }] }, { id: 'gen-2' }] });
  const after = siteSchema.parse({ id: 'quay-7', name: 'Quay 7', generators: [{ id: 'gen-1', fitted: { drain: '2026-03-02' }, valves: [{ name: 'V1', normal: 'shut' }], risers: [{ id: 'r1' }], outOfService: true }] });
  expect(siteFieldChanges(before, before)).toEqual([]);
  const lines = siteFieldChanges(before, after).map(fieldChangeWords);
  expect(lines).toEqual(expect.arrayContaining(['name: Quay 7', 'gen-1 › fitted › drain: 2026-03-02', 'gen-1 › valves › V1 › normal: open → shut', 'gen-1 › outOfService: no → yes', 'gen-1 › risers › r1 › setKPa: taken out (was 240)', 'gen-2: taken out (was listed)']));
  expect(siteFieldChanges(undefined, after).map(fieldChangeWords)).toEqual(expect.arrayContaining(['gen-1: added', 'timeZone: UTC']));
});

test('inShownUnits() turns a whole chart: lines, bands, limits and forecasts; others are left alone', () => {
  const picture: LinePicture = {
    id: 'p', title: 'P', unit: '°C', fromMs: 0, toMs: 1, startAtZero: false, leastSpan: 2, series: [{ label: 'mean', shade: 'strong', stepped: false, points: [{ x: 0, y: 20 }, { x: 1, y: Number.NaN }], floor: [{ x: 0, y: 0 }] }],
    marks: [{ kind: 'limit', y: 100, says: 'limit' }, { kind: 'visit', atMs: 1, says: 'visit' }, { kind: 'forecast', fromMs: 0, fromY: 0, toY: 10, wide: [0, null], narrow: null, likelyMs: null, says: 'f' }],
  };
  expect(inShownUnits(picture)).toBe(picture);
  showIn({ pressure: 'psi', temperature: '°F' });
  expect(inShownUnits({ ...picture, unit: '%' })).toEqual({ ...picture, unit: '%' });
  const shown = inShownUnits(picture);
  expect(shown.unit).toBe('°F');
  expect(shown.leastSpan).toBeCloseTo(3.6, 10);
  expect(shown.series[0]).toMatchObject({ points: [{ y: 68 }, { y: Number.NaN }], floor: [{ y: 32 }] });
  expect(shown.marks).toMatchObject([{ y: 212 }, { atMs: 1 }, { fromY: 32, toY: 50 }]);
  expect(measuredValueWords('tankPressureKPa', 700)).toBe(`tank pressure 101.5${NBSP}psi`);
});
