// Issue: ranking by what happens if nobody goes: forecast, consequence and sureness; each rank explains itself in one line.
import { describe, expect, test } from 'vitest';
import { hoursOver, rankStandings, type Standing } from '../../analysis/rank.ts';
import type { Cause, Finding, Forecast, LimitName } from '../../shared/finding.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { DAY_MS, isoFromMs } from '../../shared/time.ts';

const NOW_MS = Date.parse('2026-11-25T12:00:00Z');
const inDays = (days: number): string => isoFromMs(NOW_MS + days * DAY_MS);
/** Five dates, in days from now; null = beyond the horizon. */
function forecast(limit: LimitName, ...days: readonly (number | null)[]): Forecast {
  const [earliest, quarterFrom, likely, quarterTo, latest] = days.map((one) => (one === null ? null : inDays(one)));
  return { limit, earliest: earliest!, quarterFrom: quarterFrom!, likely: likely!, quarterTo: quarterTo!, latest: latest! };
}
const steady = (limit: LimitName, day: number): Forecast => forecast(limit, day, day, day, day, day);

function finding(id: string, cause: Cause, probability: number): Finding {
  return { id, site: 'a', generator: id, openedAt: inDays(-5), onset: { earliest: inDays(-9), likely: inDays(-8), latest: inDays(-7) }, cause, causes: [{ cause, probability }], among: null, missingChannels: [], alongside: [], history: [], evidence: [], state: 'new', closedAt: null, closedReason: null, shelvedUntil: null } as unknown as Finding;
}

function standing(name: string, has: Partial<Standing> = {}): Standing {
  return { key: `a/${name}` as GeneratorKey, dataState: 'reporting', dutyRatio: 0.1, baselineDutyRatio: 0.1, demandChange: null, deliveryChange: null, open: [], urgent: new Set(), ofCounters: null, forecasts: [], pastOfLate: {}, unseen: [], elementAge: null, dueBy: null, timeZone: 'UTC', ...has };
}
const age = (runHours: number, pastHours: number) => ({ runHours, pastHours });
const order = (...standings: readonly Standing[]): string[] => rankStandings(standings, NOW_MS).map((row) => row.generator);
/** A number and its sign stand on one line: told apart here by nothing. */
const says = (has: Partial<Standing>): string => rankStandings([standing('x', has)], NOW_MS)[0]!.because.replaceAll('\u00a0', ' ');

describe('rankStandings()', () => {
  test('puts a limit that is foreseen without a finding before a finding without a limit in sight', () => {
    expect(order(standing('found', { open: [finding('found', 'leak', 0.9)] }), standing('loads', { forecasts: [forecast('elementDropKPa', 5, 10, 15, 20, 25)] }), standing('calm'))).toEqual(['loads', 'found', 'calm']);
  });

  test('takes a limit that the last days were past for as many of the hours ahead, whatever the trend says', () => {
    expect(order(standing('soon', { forecasts: [steady('dutyRatio', 16)] }), standing('past', { pastOfLate: { deliveryShare: 2 / 3 } }), standing('once', { pastOfLate: { deliveryShare: 1 / 3 } }))).toEqual(['past', 'soon', 'once']);
  });

  test('puts what wants somebody now first, then hours, then findings, then whoever does not report, then service due', () => {
    const urgent = finding('u', 'not-starting', 0.8);
    expect(order(
      standing('due', { dueBy: inDays(3) }), standing('silent', { dataState: 'not-reporting' }), standing('found', { open: [finding('found', 'leak', 0.6)] }),
      standing('gone', { open: [finding('gone', 'data-gap', 1)] }), standing('past', { pastOfLate: { dutyRatio: 1 } }), standing('u', { open: [urgent], urgent: new Set([urgent.id]) }), standing('later', { dueBy: inDays(9) }),
    )).toEqual(['u', 'past', 'found', 'silent', 'due', 'later', 'gone']);
  });

  test('puts what nobody sees behind what was found and before what is seen to be calm', () => {
    expect(order(standing('calm'), standing('blind', { unseen: ['elementDropKPa', 'nitrogen'] }), standing('half', { unseen: ['nitrogen'] }), standing('found', { open: [finding('found', 'leak', 0.8)] }))).toEqual(['found', 'blind', 'half', 'calm']);
  });

  test('takes a silence that may be one of the mains for what that would cost, by its probability', () => {
    const silence: Finding = { ...finding('s', 'undetermined', 0), causes: [{ cause: 'data-gap', probability: 0.7 }, { cause: 'no-power', probability: 0.2 }, { cause: 'undetermined', probability: 0.1 }], among: ['data-gap', 'no-power'] };
    const silent = standing('silent', { dataState: 'not-reporting', open: [silence] });
    // 144 h, before a leak's 54 and after a limit that is foreseen for 360.
    expect(order(standing('leaks', { open: [finding('l', 'leak', 0.9)] }), silent, standing('soon', { forecasts: [steady('dutyRatio', 15)] }), standing('offline', { dataState: 'not-reporting', open: [finding('o', 'data-gap', 0.9)] }))).toEqual(['soon', 'silent', 'leaks', 'offline']);
  });

  test('takes no account of a counter that was set anew', () => {
    const [sensor, leak] = [finding('s', 'sensor-fault', 0.9), finding('l', 'leak', 0.3)];
    expect(order(standing('a-set', { open: [sensor], ofCounters: 's' }), standing('lies', { open: [sensor] }), standing('due', { dueBy: inDays(3) }))).toEqual(['lies', 'due', 'a-set']);
    expect(rankStandings([standing('both', { open: [sensor, leak], ofCounters: 's' })], NOW_MS)[0]!.cause).toBe('leak');
  });

  test('takes a cause that works on a limit which nobody sees for more than one whose limits are seen to be far', () => {
    const decline = finding('m', 'membrane-decline', 0.6);
    expect(order(standing('sees', { open: [decline] }), standing('blind', { open: [decline], unseen: ['nitrogen'] }), standing('leaks', { open: [finding('l', 'leak', 0.9)], unseen: ['nitrogen'] }))).toEqual(['blind', 'sees', 'leaks']);
  });

  test('takes elements of which nothing is sent for the likelier past their limit the longer they have run', () => {
    const unseen: readonly LimitName[] = ['elementDropKPa'];
    expect(order(standing('new', { unseen, elementAge: age(80, 5) }), standing('unsaid', { unseen }), standing('old', { unseen, elementAge: age(1900, 180) }), standing('sent', { elementAge: age(1900, 180) }), standing('found', { open: [finding('found', 'leak', 0.8)] }))).toEqual(['old', 'found', 'unsaid', 'new', 'sent']);
  });

  test('leaves no two equal, in whatever order they are given', () => {
    const some = ['c', 'a', 'b'].map((name) => standing(name));
    expect(order(...some)).toEqual(order(...some.toReversed()));
  });
});

test('hoursOver() counts the hours after each quantile by its share, and none beyond 30 days', () => {
  expect(hoursOver(steady('dutyRatio', 0), NOW_MS)).toBeCloseTo(720, 6);
  expect(hoursOver(steady('dutyRatio', 15), NOW_MS)).toBeCloseTo(360, 6);
  expect(hoursOver(forecast('dutyRatio', 10, 40, null, null, null), NOW_MS)).toBeCloseTo(0.175 * 480, 6);
});

describe('becauseOf()', () => {
  const leak = finding('x', 'leak', 0.826);

  test('says dates as the pages do, hours by tens, and how sure the finding is', () => {
    expect(says({ open: [leak], forecasts: [forecast('dutyRatio', 5, 7, 9, 12, 20)] })).toBe('Its duty ratio limit is likely passed by 4 Dec: about 470 h past it in the next 30 days; a change was found (cause 83 % sure).');
    expect(says({ forecasts: [forecast('nitrogen', 8, 20, null, null, null)] })).toBe('Nothing found, but its nitrogen limit may be passed from 3 Dec on: about 140 h past it in the next 30 days.');
    expect(says({ forecasts: [forecast('nitrogen', 8, 20, 40, 60, null)] })).toBe('Nothing found, but its nitrogen limit may be passed from 3 Dec on: about 140 h past it in the next 30 days.');
    expect(says({ forecasts: [forecast('nitrogen', -1, null, null, null, null)] })).toBe('Nothing found, but its nitrogen limit may be passed already: about 130 h past it in the next 30 days.');
    expect(says({ pastOfLate: { elementDropKPa: 1 } })).toBe('Nothing found, but its limit of drop over its elements is passed: about 720 h past it in the next 30 days.');
    expect(says({ open: [leak], pastOfLate: { deliveryShare: 1 / 3 } })).toContain('was passed of late');
    expect(says({ dueBy: '2027-02-03T23:30:00Z' })).toBe('Nothing found; service due 3 Feb 2027.');
  });

  test("counts dates by the site's calendar", () => {
    expect(says({ dueBy: '2026-12-03T23:30:00Z', timeZone: 'Europe/Athens' })).toBe('Nothing found; service due 4 Dec.');
  });

  test('tells the sureness of the cause from that of the change, and doubts a limit that a doubted sensor shows', () => {
    const among = { ...finding('x', 'undetermined', 0.25), causes: [{ cause: 'leak', probability: 0.5 }, { cause: 'drain-stuck-open', probability: 0.25 }, { cause: 'undetermined', probability: 0.25 }], among: ['leak', 'drain-stuck-open'] } as Finding;
    expect(says({ open: [among] })).toBe('A change was found (one of 2 causes, 75 % sure); no limit is in sight.');
    expect(says({ open: [finding('x', 'sensor-fault', 0.79)], pastOfLate: { elementDropKPa: 1 } })).toBe('By sensors of which one seems to err, its limit of drop over its elements is passed: about 720 h past it in the next 30 days; a change was found (cause 79 % sure).');
  });

  test('is never 100 % sure', () => {
    const sure = finding('x', 'no-power', 0.997);
    expect(says({ open: [sure], urgent: new Set(['x']) })).toBe('Wants somebody now (cause almost sure).');
    expect(says({ open: [finding('x', 'leak', 1)] })).toBe('A change was found (cause almost sure); no limit is in sight.');
  });

  test('says what is not known', () => {
    expect(says({ dataState: 'not-reporting' })).toBe('Not reporting: nobody knows how it is.');
    expect(says({ open: [finding('x', 'data-gap', 0.9)] })).toBe('Not heard for long: nobody knows how it is.');
    expect(says({ open: [{ ...finding('x', 'undetermined', 0.9), among: ['data-gap', 'no-power'] }] })).toBe('Not heard for long: nobody knows how it is, and its mains may be off.');
    expect(says({ unseen: ['elementDropKPa', 'nitrogen'], dueBy: inDays(8) })).toBe("Nothing found, but the drop over its elements and its nitrogen can't be judged; service due 3 Dec.");
    expect(says({ unseen: ['elementDropKPa'], elementAge: { runHours: 1903, pastHours: 180 }, dueBy: inDays(8) })).toBe("Nothing found, but the drop over its elements can't be judged, and its elements have run about 1900 h; service due 3 Dec.");
    expect(says({})).toBe('Nothing found; no service date is known.');
    expect(says({ open: [leak], forecasts: [forecast('dutyRatio', 90, 200, null, null, null)] })).toBe('A change was found (cause 83 % sure); its limits are far.');
  });
});
