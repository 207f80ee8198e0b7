// Source: RFC 8428 (SenML), section 5.1: the example packs and their resolved forms; RFC 8798 for secondary units.
import { expect, test } from 'vitest';
import { decodePack, type SenmlRecord } from '../../ingest/decode-pack.ts';
import { conversionFor } from '../../shared/units.ts';

const RECEIVED_MS = Date.UTC(2026, 0, 2, 3, 4, 5);

function resolved(json: string): readonly SenmlRecord[] {
  const records = decodePack(JSON.parse(json), RECEIVED_MS);
  if ('rejected' in records) throw new Error(records.says);
  return records;
}
/** Name, unit, value, seconds since 1970 (null = relative to now), as RFC 8428 prints resolved records. */
const rows = (json: string) => resolved(json).map((one) => [one.name, one.unit, one.value, one.relativeTime ? null : one.atMs / 1000]);

// Source: RFC 8428, section 5.1.1.
test('decodePack() resolves a single datapoint', () => {
  const json = '[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]';
  expect(rows(json)).toEqual([['urn:dev:ow:10e2073a01080063', 'Cel', 23.1, null]]);
  expect(resolved(json)[0]?.atMs).toBe(RECEIVED_MS);
});

// Source: RFC 8428, section 5.1.2, first pack.
test('decodePack() joins the base name with each name', () => {
  expect(rows('[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]')).toEqual([
    ['urn:dev:ow:10e2073a01080063:voltage', 'V', 120.1, null],
    ['urn:dev:ow:10e2073a01080063:current', 'A', 1.2, null],
  ]);
});

// Source: RFC 8428, section 5.1.2, second pack and its resolved form in 5.1.4 (as shortened); bver 5 is taken.
test('decodePack() adds base time, takes the base unit where none is given, and accepts bver 5', () => {
  expect(rows('[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},{"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},{"n":"current","v":1.7}]')).toEqual([
    ['urn:dev:ow:10e2073a0108006:voltage', 'V', 120.1, 1276020076.001],
    ['urn:dev:ow:10e2073a0108006:current', 'A', 1.2, 1276020071.001],
    ['urn:dev:ow:10e2073a0108006:current', 'A', 1.3, 1276020072.001],
    ['urn:dev:ow:10e2073a0108006:current', 'A', 1.7, 1276020076.001],
  ]);
});

// Source: RFC 8428, section 5.1.5; "aGkgCg" is the bytes 68 69 20 0A.
test('decodePack() reads text, booleans and data', () => {
  const records = resolved('[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"},{"n":"open","vb":false},{"n":"nfv-reader","vd":"aGkgCg"}]');
  expect(records.map((one) => [one.channel, one.kind, one.value])).toEqual([['temp', 'v', 23.1], ['label', 'vs', 'Machine Room'], ['open', 'vb', false], ['nfv-reader', 'vd', 'aGkgCg']]);
  expect(Buffer.from(String(records[3]?.value), 'base64url').toString('hex')).toBe('6869200a');
});

// Source: RFC 8428, section 5.1.6 (collection of resources): the base name is replaced in record 3, the base time stays.
test('decodePack() keeps a base field until it is replaced', () => {
  expect(rows('[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},{"n":"humidity","u":"%RH","v":30},{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},{"n":"humidity","u":"%RH","v":67}]')).toEqual([
    ['2001:db8::2/temperature', 'Cel', 25.2, 1320078429],
    ['2001:db8::2/humidity', '%RH', 30, 1320078429],
    ['2001:db8::1/temperature', 'Cel', 12.3, 1320078429],
    ['2001:db8::1/humidity', '%RH', 67, 1320078429],
  ]);
});

// Source: RFC 8428, section 5.1.7 (setting an actuator).
test('decodePack() resolves times beside a base time', () => {
  expect(rows('[{"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":0.5},{"n":"2001:db8::4","v":0.5},{"n":"2001:db8::3","t":0.1,"v":0},{"n":"2001:db8::4","t":0.1,"v":0}]')).toEqual([
    ['2001:db8::3', '/', 0.5, 1320078429],
    ['2001:db8::4', '/', 0.5, 1320078429],
    ['2001:db8::3', '/', 0, 1320078429.1],
    ['2001:db8::4', '/', 0, 1320078429.1],
  ]);
});

// Source: RFC 8428, section 4.5.3: below 2^28 s a time is relative to now; 2^28 s is 1978-07-04T21:24:16Z.
test('decodePack() parts relative from absolute times at 2^28 s', () => {
  const [absolute, relative, later] = resolved('[{"n":"a","t":268435456,"v":1},{"n":"a","t":-30.5,"v":1},{"n":"a","t":268435455,"v":1}]');
  expect(new Date(absolute!.atMs).toISOString()).toBe('1978-07-04T21:24:16.000Z');
  expect(absolute!.relativeTime).toBe(false);
  expect([relative!.relativeTime, relative!.atMs]).toEqual([true, RECEIVED_MS - 30_500]);
  expect([later!.relativeTime, later!.atMs]).toEqual([true, RECEIVED_MS + 268435455_000]);
});

// Source: RFC 8428, section 4.4: version 10 is the newest; a field that ends in "_" must be understood; other unknown ones are ignored.
test('decodePack() refuses newer versions and fields that must be understood, and passes over others', () => {
  expect(rows('[{"bver":10,"n":"a","u":"A","v":1,"colour":"red"}]')).toEqual([['a', 'A', 1, null]]);
  for (const json of ['[{"bver":11,"n":"a","v":1}]', '[{"bver":5,"n":"a","v":1},{"bver":10,"n":"a","v":1}]', '[{"n":"a","v":1,"fresh_":true}]', '[{"bver":0,"n":"a","v":1}]', '{"n":"a","v":1}', '[3]', '[{"bn":7,"n":"a","v":1}]', '[{"bt":"x","n":"a","v":1}]']) {
    expect(decodePack(JSON.parse(json), RECEIVED_MS), json).toMatchObject({ rejected: 'malformed' });
  }
});

// Source: RFC 8428, sections 4.1 and 4.2: a base value is added to the value found; just one value a record; sums stand beside it.
test('decodePack() adds the base value and refuses records with none or two values, and only those', () => {
  expect(rows('[{"bv":100,"n":"a","v":1.5},{"n":"b","v":-1},{"bv":0,"n":"c","v":2}]').map((row) => row[2])).toEqual([101.5, 99, 2]);
  const records = resolved('[{"n":"a","v":1,"vb":true},{"n":"b"},{"n":"c","s":5},{"n":"d","v":2,"s":5},{"n":"e","v":"2"},{"n":"f","v":1e999},{"bn":"x:"}]');
  expect(records.map((one) => one.problem === undefined)).toEqual([false, false, false, true, false, false]);
});

// Source: RFC 8428, section 4.5.1: characters of names.
test('decodePack() refuses names outside the character set', () => {
  expect(resolved('[{"n":"a-Z:9./_","v":1},{"n":"-a","v":1},{"n":"a b","v":1},{"n":"ä","v":1},{"v":1}]').map((one) => one.problem === undefined)).toEqual([true, false, false, false, false]);
});

// Source: RFC 8798, section 3: secondary units and their scale, with its example 100 ms = 0.1 s; RFC 8428, section 12.1, note 2 for "%".
test('conversionFor() converts the secondary units of RFC 8798', () => {
  const kept = (...args: Parameters<typeof conversionFor>) => {
    const conversion = conversionFor(...args);
    return 'rejected' in conversion ? conversion.rejected : (value: number) => value * conversion.scale + conversion.offset;
  };
  expect((kept('duration', 'ms') as (value: number) => number)(100)).toBeCloseTo(0.1, 15);
  expect((kept('duration', 'h') as (value: number) => number)(2)).toBe(7200);
  expect((kept('duration', 'min') as (value: number) => number)(2)).toBe(120);
  expect((kept('pressure', 'hPa') as (value: number) => number)(1013.25)).toBeCloseTo(101.325, 12);
  expect((kept('ratio', '/100') as (value: number) => number)(98)).toBeCloseTo(0.98, 15);
  expect((kept('current', 'mA') as (value: number) => number)(1500)).toBe(1.5);
  expect(kept('ratio', '%')).toBe('unit-unclear');
  expect((kept('ratio', '%', 'ratio') as (value: number) => number)(0.98)).toBe(0.98);
});

// Source: UCUM 2.2: [psi] = [lbf_av]/[in_i]2 from 0.45359237 kg, 9.80665 m/s2 and 2.54 cm. Temperature: 0 °C = 273.15 K (RFC 8428 prints 275.15, a slip).
test('conversionFor() takes psi and temperatures by their definitions', () => {
  const psi = conversionFor('pressure', '[psi]');
  expect(psi).toEqual({ scale: 6.894757293168361, offset: 0 });
  expect((0.45359237 * 9.80665) / 0.0254 ** 2 / 1000).toBeCloseTo(6.894757293168361, 12);
  expect(conversionFor('temperature', 'K')).toEqual({ scale: 1, offset: -273.15 });
  const fahrenheit = conversionFor('temperature', 'degF') as { scale: number; offset: number };
  expect(212 * fahrenheit.scale + fahrenheit.offset).toBeCloseTo(100, 10);
  expect(-40 * fahrenheit.scale + fahrenheit.offset).toBeCloseTo(-40, 10);
});
