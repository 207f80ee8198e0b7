// Issue: "The main job, end to end": the ranked Overview, with the rest band of 42 days.
import { expect, test } from 'vitest';
import type { Finding } from '../../../shared/finding.ts';
import { unclaimedGenerator } from '../../../shared/registry.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { leadingFinding, stateWithoutRow, unrankedRow } from '../../../dashboard/views/overview-rows.ts';
import { restBand } from '../../../dashboard/views/rest-band.ts';

const finding = (id: string, cause: Finding['cause'], change: Partial<Finding> = {}): [string, Finding] => [id, { id, cause, state: 'new', shelvedUntil: null, ...change } as Finding];

test("leadingFinding() is the open one about the row's cause; shelved ones stand back, closed ones never lead", () => {
  const row = { cause: 'leak', findings: ['a', 'b', 'c'] } as const;
  expect(leadingFinding(row, new Map([finding('a', 'sensor-fault'), finding('b', 'leak'), finding('c', 'leak')]))?.id).toBe('b');
  expect(leadingFinding(row, new Map([finding('a', 'sensor-fault'), finding('b', 'leak', { shelvedUntil: '2026-12-01T00:00:00Z' })]))?.id).toBe('a');
  expect(leadingFinding(row, new Map([finding('b', 'leak', { shelvedUntil: '2026-12-01T00:00:00Z' })]))?.id).toBe('b');
  expect(leadingFinding(row, new Map([finding('b', 'leak', { state: 'closed' })]))).toBeUndefined();
  expect(leadingFinding(row, new Map())).toBeUndefined();
});

test('unrankedRow() tells never heard from heard for the first time and from out of service', () => {
  const one = unclaimedGenerator('site-1/gen-1' as GeneratorKey);
  expect(unrankedRow(one, false, 3)).toMatchObject({ rank: 3, dataState: 'not-reporting', because: 'nothing was ever heard from it' });
  expect(unrankedRow(one, true, 3)).toMatchObject({ dataState: 'learning' });
  expect(stateWithoutRow({ ...one, generator: { ...one.generator, outOfService: true } }, true)).toBe('out-of-service');
});

test('restBand() is whole days up to today, over the change of clocks and of year, with gaps left open', () => {
  const band = restBand([{ day: '2026-12-31', runS: 300, restS: 2700 }, { day: '2025-01-01', runS: 1, restS: 1 }], '2027-01-02', 4);
  expect(band).toEqual([{ day: '2026-12-30', runS: null, restS: null }, { day: '2026-12-31', runS: 300, restS: 2700 }, { day: '2027-01-01', runS: null, restS: null }, { day: '2027-01-02', runS: null, restS: null }]);
  const march = restBand([], '2026-04-01', 42);
  expect(new Set(march.map((one) => one.day)).size).toBe(42);
  expect(march[0]?.day).toBe('2026-02-19');
});
