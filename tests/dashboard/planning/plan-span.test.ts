// Issue: the plan: what stands, what is proposed and why, what a week later would mean, and calendars that move an event instead of adding one.
import { describe, expect, test } from 'vitest';
import type { Forecast } from '../../../shared/finding.ts';
import { type Visit, visitSchema } from '../../../shared/visit.ts';
import { dayAt, momentOf } from '../../../dashboard/planning/calendar-days.ts';
import { planSpan } from '../../../dashboard/planning/plan-span.ts';
import { chanceBy, slipSays } from '../../../dashboard/planning/slip-words.ts';
import { type CalendarVisit, visitCalendar } from '../../../dashboard/planning/visit-calendar.ts';
import { planCsv } from '../../../dashboard/views/plan-csv.ts';
import { needWords } from '../../../dashboard/views/plan-words.ts';
import { MONDAY, need, person, test_ } from './invented-needs.ts';

const SITE = { name: 'Invented quay', area: 'harbour', access: 'ring at the gate', timeZone: 'Europe/Lisbon' };
const visit = (more: Partial<Visit> = {}): Visit => visitSchema.parse({ id: 'trip-1', site: 'quay', generators: ['gen-1'], state: 'planned', plannedFor: '2026-12-01', technician: 'Ana', hours: 2, findings: ['finding-quay'], updatedAt: '2026-11-24T12:00:00Z', updatedBy: 'Lead', revision: 3, ...more });
const span = (more: Partial<Parameters<typeof planSpan>[0]> = {}) => planSpan({ at: null, fromDay: MONDAY, days: 7, today: MONDAY, needs: [], visits: [], technicians: [person('Ana')], tests: [], sites: new Map([['quay', SITE]]), ...more });
const forecast: Forecast = { limit: 'elementDropKPa', earliest: '2026-12-03T00:00:00Z', quarterFrom: '2026-12-06T00:00:00Z', likely: '2026-12-11T00:00:00Z', quarterTo: '2026-12-20T00:00:00Z', latest: null };

describe('planSpan()', () => {
  test('planSpan() proposes nothing for a generator that a visit names, and shows that visit with its reasons', () => {
    const plan = span({ needs: [need('quay', { forecast })], visits: [visit()] });
    expect(plan.trips.map((trip) => [trip.key, trip.visit?.state, trip.day, trip.warnings])).toEqual([['trip-1', 'planned', '2026-12-01', []]]);
    expect(plan.trips[0]!.slip).toEqual(['the chance that the pressure drop over the elements passes its limit rises from below 10 % to about 40 %.']);
    expect(plan.days[1]!.people).toEqual([{ name: 'Ana', hours: 8, plannedHours: 3, proposedHours: 0, away: false }]);
    const free = span({ needs: [need('quay', { forecast })], visits: [visit({ state: 'cancelled' })] });
    expect(free.trips.map((trip) => trip.visit)).toEqual([null]);
    expect(free.trips[0]!.because[0]).toBe('Can wait until Thu 3 Dec, from its condition.');
    // What is past can't wait until then.
    const late = (byDay: string) => { const one = need('quay', { byDay }); return [span({ needs: [one] }).trips[0]!.because[0], needWords(one, MONDAY, Date.parse(`${MONDAY}T12:00:00Z`))]; };
    expect(late('2026-11-25')).toEqual([expect.stringMatching(/^Its date was Wed 25 Nov, from/), expect.stringContaining('; its date was Wed 25 Nov')]);
    expect(late(MONDAY)).toEqual([expect.stringMatching(/^Its date is today, Mon 30 Nov, from/), expect.stringContaining('; its date is today')]);
  });

  test('planSpan() warns of what does not fit, and moves nothing that a person planned', () => {
    const off = person('Ana', { away: [{ from: '2026-12-01', to: '2026-12-01' }] });
    const warned = (more: Partial<Visit>, technician = person('Ana'), today = MONDAY) => span({ needs: [need('quay')], visits: [visit(more)], technicians: [technician], today }).trips[0]!.warnings;
    expect(warned({ plannedFor: '2026-12-04' })).toContain('1 day after its date.');
    expect(warned({ plannedFor: '2026-12-05' })).toEqual(['2 days after its date.', 'Ana has 0 h that day; 3 h are planned, the way included.']);
    expect(warned({}, off)).toEqual(['Ana is away that day.']);
    expect(warned({ technician: null })).toEqual(['Nobody is named.']);
    expect(warned({ technician: 'Rui' })).toEqual(['Rui is not in the list of people.']);
    expect(warned({ hours: 9 })).toEqual(['Ana has 8 h that day; 10 h are planned, the way included.']);
    expect(warned({ plannedFor: '2026-12-01' }, person('Ana'), '2026-12-02')).toEqual(['Its day is past and nothing is recorded.']);
  });

  test('planSpan() says that a trip falls on the day of the contractor\'s test', () => {
    const plan = span({ needs: [need('quay', { byDay: '2026-12-04' })], tests: [test_('quay', '2026-12-02T09:00:00Z')] });
    expect([plan.trips[0]!.day, plan.trips[0]!.withTest]).toEqual(['2026-12-02', 'test-quay']);
    expect(plan.trips[0]!.because).toContain("On the day of the sprinkler contractor's test there: coordinator and station are told once.");
  });

  test('planSpan() proposes for today and later, never for the past', () => {
    const plan = span({ needs: [need('quay', { atOnce: true, byDay: MONDAY })], today: '2026-12-02' });
    expect(plan.trips[0]!.day).toBe('2026-12-02');
  });
});

describe('slipSays()', () => {
  test('chanceBy() goes in straight lines between the five dates, and says no more than they do', () => {
    expect(chanceBy(forecast, '2026-12-01')).toEqual({ percent: 10, atMost: true, atLeast: false });
    expect(chanceBy(forecast, '2026-12-10')).toEqual({ percent: 50, atMost: false, atLeast: false });
    expect(chanceBy(forecast, '2027-12-10')).toEqual({ percent: 75, atMost: false, atLeast: true });
    expect(chanceBy({ ...forecast, earliest: null, quarterFrom: null, likely: null, quarterTo: null }, MONDAY)).toBeUndefined();
  });

  test('slipSays() names the maker\'s interval and what should not wait', () => {
    expect(slipSays([need('quay', { atOnce: true })], MONDAY)).toEqual(['should not wait; each day counts.']);
    expect(slipSays([need('quay', { dueDay: '2026-12-06', limit: null })], MONDAY)).toEqual(['service would be 1 day past due (Sun 6 Dec).']);
    expect(slipSays([need('quay', { dueDay: '2026-11-28', limit: null })], MONDAY)).toEqual(['service, 2 days past due, would be 9.']);
    expect(slipSays([need('quay', { dueDay: '2027-01-02', limit: null })], '2026-12-30')).toEqual(['service would be 4 days past due (Sat 2 Jan 2027).']);
    expect(slipSays([need('quay', { dueDay: '2026-12-30', limit: null })], MONDAY)).toEqual([]);
  });
});

// Source: RFC 5545, sections 3.8.4.7 (UID), 3.8.7.4 (SEQUENCE), 3.3.5 (date-time in UTC), 3.8.1.11 (STATUS), 3.1 (lines of 75 octets).
describe('visitCalendar()', () => {
  const one = (more: Partial<Visit> = {}): CalendarVisit => ({ visit: visit(more), siteName: 'Invented quay', address: null, access: 'ring at gate B; weekdays', timeZone: 'Europe/Lisbon', why: ['the elements are loading'] });
  const unfolded = (text: string): string[] => text.replaceAll('\r\n ', '').split('\r\n');

  test('visitCalendar() keeps the UID, counts SEQUENCE up and writes UTC', () => {
    const lines = unfolded(visitCalendar([one({ plannedFor: '2026-07-01', plannedTime: '08:30' })], 'Visits, Ana'));
    expect(lines).toContain('UID:trip-1@lull');
    expect(lines).toContain('SEQUENCE:3');
    expect(lines).toContain('DTSTART:20260701T073000Z');
    expect(lines).toContain('DTEND:20260701T093000Z');
    expect(lines).toContain('DTSTAMP:20261124T120000Z');
    expect(lines).toContain('STATUS:CONFIRMED');
    expect(lines.some((line) => line.startsWith('DESCRIPTION:') && line.includes('ring at gate B\\; weekdays') && line.includes('impairment coordinator'))).toBe(true);
  });

  test('visitCalendar() makes a day of a visit without a time, leaves one without a day out, and keeps a cancelled one', () => {
    const text = visitCalendar([one(), one({ id: 'trip-2', plannedFor: null }), one({ id: 'trip-3', state: 'cancelled' })], 'Visits');
    expect(unfolded(text)).toContain('DTSTART;VALUE=DATE:20261201');
    expect(text.includes('trip-2')).toBe(false);
    expect(unfolded(text)).toContain('STATUS:CANCELLED');
    expect(text.split('\r\n').every((line) => Buffer.byteLength(line) <= 75)).toBe(true);
  });
});

describe('days of a site', () => {
  test('momentOf() and dayAt() follow the clocks of the zone', () => {
    expect(momentOf('2026-03-29', '01:30', 'Europe/Lisbon')).toBe(Date.parse('2026-03-29T01:30:00Z'));
    expect(momentOf('2026-10-25', '01:30', 'Europe/Lisbon')).toBe(Date.parse('2026-10-25T00:30:00Z'));
    expect(momentOf('2026-12-01', '08:00', 'Asia/Tokyo')).toBe(Date.parse('2026-11-30T23:00:00Z'));
    expect(dayAt(Date.parse('2026-11-30T23:00:00Z'), 'Asia/Tokyo')).toBe('2026-12-01');
  });
});

test('planCsv() writes what stands and what is proposed, and no formula', () => {
  const csv = planCsv(span({ needs: [need('mill', { siteName: '=cmd', bring: ['2, "long" bolts'] })], visits: [visit({ note: '@home' })] }));
  const lines = csv.split('\r\n');
  expect(lines[0]).toMatch(/^day,time,timeZone,state,technician/);
  expect(csv).toContain("'=cmd");
  expect(csv).toContain("'@home");
  expect(csv).toContain('"2, ""long"" bolts"');
  expect(lines.length).toBe(4);
});
