// Issue: "The main job, end to end": a plain service list, by when, site, cause, who must go, what to bring.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import type { ServiceListRow } from '../../../shared/api.ts';
import type { RankingRow } from '../../../shared/finding.ts';
import { canWaitUntil, serviceList } from '../../../dashboard/views/service-list.ts';
import { csvCell, serviceListCsv } from '../../../dashboard/views/service-list-csv.ts';

const NOW = '2026-11-24T12:00:00.000Z';
const inDays = (days: number): string => new Date(Date.parse(NOW) + days * 86_400_000).toISOString();
type Waits = Pick<RankingRow, 'serviceBy' | 'dueBy' | 'cause'>;
const row = (change: Partial<Waits>): Waits => ({ serviceBy: null, dueBy: null, cause: null, ...change });
const by = (earliest: number | null, likely: number | null): RankingRow['serviceBy'] => ({ earliest: earliest === null ? null : inDays(earliest), likely: likely === null ? null : inDays(likely), latest: null, limit: 'dutyRatio' });

test('canWaitUntil() takes the likely date, the early one when it is near, and the service due when that is earlier', () => {
  expect(canWaitUntil(row({ serviceBy: by(20, 60) }), NOW)).toEqual({ byAt: inDays(60), byBecause: 'condition', byQuantile: 0.5 });
  expect(canWaitUntil(row({ serviceBy: by(7, 60) }), NOW)).toEqual({ byAt: inDays(7), byBecause: 'condition', byQuantile: 0.1 });
  expect(canWaitUntil(row({ serviceBy: by(-1, 3) }), NOW)).toEqual({ byAt: inDays(-1), byBecause: 'condition', byQuantile: 0.1 });
  expect(canWaitUntil(row({ serviceBy: by(20, 60), dueBy: inDays(59) }), NOW)).toEqual({ byAt: inDays(59), byBecause: 'due', byQuantile: null });
  expect(canWaitUntil(row({ serviceBy: by(20, 60), dueBy: inDays(61) }), NOW)).toMatchObject({ byAt: inDays(60) });
  expect(canWaitUntil(row({ serviceBy: by(20, null), dueBy: inDays(90) }), NOW)).toMatchObject({ byBecause: 'due' });
  expect(canWaitUntil(row({ serviceBy: by(null, null) }), NOW)).toEqual({ byAt: null, byBecause: null, byQuantile: null });
  expect(canWaitUntil(row({}), NOW).byAt).toBeNull();
});

test('canWaitUntil() is now for a cause that waits for nothing, whatever the forecast', () => {
  expect(canWaitUntil(row({ cause: 'valve-left-shut', serviceBy: by(20, 60), dueBy: inDays(5) }), NOW)).toEqual({ byAt: NOW, byBecause: 'condition', byQuantile: null });
});

const listed = (site: string, byAt: string | null, cause: ServiceListRow['cause'] = 'leak'): ServiceListRow => ({
  site, siteName: site, area: null, timeZone: 'UTC', access: null, generator: 'gen-1', generatorName: 'Generator 1', cause, causeSays: 'leak', probability: 0.9, byAt, byBecause: null, limit: null, dueAt: null, runHours: null, whoMustGo: 'generator technician', bring: [], because: '',
});

test('serviceList() is by date, no date last, equals in order of rank; what wants nobody is left out', () => {
  const rows = [listed('a', null), listed('b', inDays(9)), listed('c', inDays(2)), listed('d', inDays(2)), listed('e', null, null)];
  expect(serviceList(rows).map((one) => one.site)).toEqual(['c', 'd', 'b', 'a']);
});

test('csvCell() runs no formula and breaks no number', () => {
  expect(['=1+1', '+1+1', '-1+1', '@SUM(A1)', '\tx', '＝1'].map(csvCell).map((cell) => cell.replaceAll('"', '')[0])).toEqual(Array.from({ length: 6 }, () => "'"));
  expect([csvCell(-5), csvCell('-5'), csvCell('-5.25'), csvCell('+351'), csvCell(0.5)]).toEqual(['-5', '-5', '-5.25', '+351', '0.5']);
  expect(csvCell(null)).toBe('');
  expect(csvCell('a "b", c')).toBe('"a ""b"", c"');
});

/** A reader of RFC 4180, written for this test alone. */
function readCsv(text: string): string[][] {
  const rows: string[][] = [[]];
  for (const match of text.matchAll(/(?:"((?:[^"]|"")*)"|([^",\r\n]*))(,|\r\n|$)/gy)) {
    if (match[0] === '' && match.index === text.length) break;
    rows.at(-1)!.push(match[1]?.replaceAll('""', '"') ?? match[2] ?? '');
    if (match[3] === '\r\n') rows.push([]);
  }
  return rows.at(-1)!.length === 0 ? rows.slice(0, -1) : rows;
}

test('serviceListCsv() can be read back cell by cell, whatever people typed', () => {
  fc.assert(
    fc.property(fc.array(fc.tuple(fc.string(), fc.string({ unit: fc.constantFrom('"', ',', '\r', '\n', '=', '-', '5', 'x', ' ') })), { maxLength: 5 }), (names) => {
      const read = readCsv(serviceListCsv(names.map(([name, access]) => ({ ...listed('site', inDays(1)), siteName: name, access }))));
      const [siteName, access] = [read[0]!.indexOf('site name'), read[0]!.indexOf('access')];
      expect(read).toHaveLength(names.length + 1);
      names.forEach(([name, typed], index) => {
        expect(read[index + 1]).toHaveLength(read[0]!.length);
        expect([name, `'${name}`]).toContain(read[index + 1]![siteName]);
        expect([typed, `'${typed}`]).toContain(read[index + 1]![access]);
      });
    }),
  );
});
