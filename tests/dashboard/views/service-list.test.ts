// Issue: "The main job, end to end": a plain service list, by when, site, cause, who must go, what to bring.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import type { ServiceListRow } from '../../../shared/api.ts';
import { type Finding, type FindingAction, type RankingRow, withActions } from '../../../shared/finding.ts';
import { generatorSchema, type RegisteredGenerator, siteSchema } from '../../../shared/registry.ts';
import { checkedWords, servedSince, workWords } from '../../../dashboard/views/being-checked.ts';
import { needWords } from '../../../dashboard/views/plan-words.ts';
import { canWaitUntil, serviceList, serviceListRow } from '../../../dashboard/views/service-list.ts';
import { csvCell, serviceListCsv } from '../../../dashboard/views/service-list-csv.ts';
import { conditionWords, waitWords } from '../../../dashboard/views/wait-words.ts';

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

test('waitWords() of a generator of which nothing is known says so, and not that no end is in sight', () => {
  const nowMs = Date.parse(NOW);
  expect(waitWords({ ...row({}), dutyRatio: null }, 'UTC', nowMs).until).toBe('not known');
  expect(waitWords({ ...row({}), dutyRatio: 0.2 }, 'UTC', nowMs).until).toBe('no end in sight');
  expect(waitWords({ ...row({ dueBy: inDays(9) }), dutyRatio: null }, 'UTC', nowMs).until).toBe('3 Dec');
});

test('conditionWords() says of a cause that should not wait that no limit is what presses, and else that no end is in sight', () => {
  const words = (more: Partial<Parameters<typeof row>[0]>, dutyRatio: number | null = 0.2): string => conditionWords({ ...row(more), dutyRatio }, 'UTC', Date.parse(NOW));
  expect(words({})).toBe('From its condition no end is in sight.');
  expect(words({ cause: 'valve-left-shut' })).toBe('No limit is near: it is the fault itself that is urgent.');
  expect(words({}, null)).toBe('Of its last days nothing is known.');
  expect(words({ serviceBy: by(20, 60) })).toMatch(/^From its condition: limit of .* \(10 to 90\u00a0%\)\.$/);
});

test('once the work is done nobody need go at once: the line says until when it is checked, and a service that is due stays', () => {
  const shut = row({ cause: 'valve-left-shut' });
  expect(waitWords({ ...shut, state: 'planned' }, 'UTC', Date.parse(NOW)).until).toBe('at once');
  const checked = waitWords({ ...shut, state: 'verifying', servedAt: '2026-11-24T10:00:00Z' }, 'Europe/Lisbon', Date.parse(NOW));
  expect(checked).toMatchObject({ until: 'being checked', due: 'none' });
  expect(checked.says).toBe('the work is done and being checked: work ended 24 Nov, 10:00; looked at again 24 Nov, 14:00');
  expect(waitWords({ ...shut, dueBy: inDays(-3), state: 'verifying', servedAt: NOW }, 'UTC', Date.parse(NOW))).toMatchObject({ due: 'now', because: expect.stringMatching(/its date was 21 Nov \(service due/) });
  const at = (hours: number): string => checkedWords({ servedAt: NOW }, 'UTC', Date.parse(NOW) + hours * 3_600_000);
  expect([at(1), at(5), at(25)].map((says) => says.split('; ')[1])).toEqual(['looked at again 24 Nov, 16:00', 'looked at again 25 Nov, 12:00', 'looked at again as each day ends, until enough is seen']);
  expect(checkedWords({ servedAt: null }, 'UTC', Date.parse(NOW))).toContain('closes once readings show');
  expect(needWords({ causeSays: 'a valve was left shut', atOnce: false, byDay: null, byBecause: null, dueDay: null, state: 'verifying', servedAt: NOW, timeZone: 'UTC' }, '2026-11-24', Date.parse(NOW))).toMatch(/^a valve was left shut; the work is done and being checked: work ended .*; no date presses$/);
});

test('work that is done and has not shown yet that it helped is said for a day, whatever the urgency', () => {
  const nowMs = Date.parse(NOW);
  const served = { state: 'acknowledged' as const, servedAt: NOW };
  expect(waitWords({ ...row({ cause: 'valve-left-shut' }), ...served }, 'UTC', nowMs + 1)).toMatchObject({ until: 'at once', because: 'this cause should not wait; work ended 24 Nov, 12:00; not seen yet that it helped' });
  expect(workWords(served, 'UTC', nowMs + 25 * 3_600_000)).toBeNull();
  expect(workWords({ ...served, state: 'closed' }, 'UTC', nowMs)).toBeNull();
  expect([servedSince({ openedAt: inDays(-1) }, NOW), servedSince({ openedAt: inDays(1) }, NOW), servedSince({ openedAt: NOW }, null)]).toEqual([NOW, null, null]);
});

test('serviceListRow() has no date of now for a cause that waits for nothing once its work is done', () => {
  const registered: RegisteredGenerator = { key: 'quay/gen-1' as never, site: siteSchema.parse({ id: 'quay' }), generator: generatorSchema.parse({ id: 'gen-1' }), claimed: true };
  const ranked: RankingRow = { rank: 1, site: 'quay', generator: 'gen-1', dataState: 'reporting', dutyRatio: null, baselineDutyRatio: null, demandChange: null, deliveryChange: null, cause: 'valve-left-shut', causes: [], serviceBy: null, forecasts: [], dueBy: null, because: '', findings: ['f'] };
  const found = (state: Finding['state']): Finding => ({ id: 'f', site: 'quay', generator: 'gen-1', openedAt: inDays(-1), onset: { earliest: null, likely: null, latest: null }, cause: 'valve-left-shut', causes: [{ cause: 'valve-left-shut', probability: 1 }], among: null, missingChannels: [], alongside: [], history: [], evidence: [], settings: '', state, shelvedUntil: null, closedAt: null, closedReason: null });
  const line = (finding: Finding): ServiceListRow => serviceListRow({ row: ranked, registered, findings: new Map([['f', finding]]), runHours: null, servedAt: NOW, nowAt: NOW });
  expect(line(found('new'))).toMatchObject({ byAt: NOW, byBecause: 'condition' });
  expect(line(found('verifying'))).toMatchObject({ byAt: null, byBecause: null, state: 'verifying', servedAt: NOW });
  // The plan that led to the visit is older than the visit: it doesn't hide that the work is done.
  const planned: FindingAction = { finding: 'f', atMs: Date.parse(NOW), by: 'L. Invented', action: 'plan' };
  expect(withActions(found('verifying'), [planned], Date.parse(NOW)).state).toBe('verifying');
  expect(withActions(found('new'), [planned], Date.parse(NOW)).state).toBe('planned');
  // Carried out, and not seen yet that it helped: it isn't planned any more, and it isn't new.
  expect(withActions(found('new'), [planned], Date.parse(NOW), Date.parse(NOW) + 1).state).toBe('acknowledged');
  expect(withActions(found('new'), [planned], Date.parse(NOW), Date.parse(NOW) - 1).state).toBe('planned');
});

const listed = (site: string, byAt: string | null, cause: ServiceListRow['cause'] = 'leak'): ServiceListRow => ({
  site, siteName: site, area: null, timeZone: 'UTC', access: null, generator: 'gen-1', generatorName: 'Generator 1', cause, causeSays: 'leak', probability: 0.9, state: 'new', servedAt: null, byAt, byBecause: null, limit: null, dueAt: null, runHours: null, whoMustGo: 'generator technician', bring: [], because: '',
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
