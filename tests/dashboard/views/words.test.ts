// Issue: every number with its unit, every time in the site's zone, every cause with how sure; no last value without its age.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { bandDaysOf } from '../../../dashboard/views/band-days.ts';
import { amongWords, sureWords } from '../../../dashboard/views/domain-words.ts';
import { causeSentence, evidenceSides, movedSentence, onsetSentence } from '../../../dashboard/views/finding-sentences.ts';
import { bytesWords, changeWords, durationWords, percentWords, valueWords } from '../../../dashboard/views/number-words.ts';
import { ageWords, msOfWallTime, timeWords, wallTime } from '../../../dashboard/views/site-time.ts';
import { waitWords } from '../../../dashboard/views/wait-words.ts';
import type { DayRow } from '../../../shared/cycle.ts';

const plain = (text: string): string => text.replaceAll('\u00a0', ' ');
const NOW_MS = Date.parse('2026-11-24T03:12:00Z');

test('wallTime() and msOfWallTime() are each other turned round, in any zone, also where clocks change', () => {
  const zones = ['UTC', 'Europe/Lisbon', 'America/Denver', 'Asia/Kolkata', 'Australia/Lord_Howe', 'Pacific/Apia'];
  fc.assert(
    fc.property(fc.integer({ min: Date.parse('2024-01-01') / 60_000, max: Date.parse('2028-01-01') / 60_000 }), fc.constantFrom(...zones), (minute, zone) => {
      const wall = wallTime(minute * 60_000, zone);
      expect(wallTime(msOfWallTime(wall, zone)!, zone)).toBe(wall);
    }),
    { numRuns: 2000 },
  );
});

test('msOfWallTime() takes the earlier of two where clocks go back, and moves on what clocks skip', () => {
  expect(new Date(msOfWallTime('2026-10-25T01:30', 'Europe/Lisbon')!).toISOString()).toBe('2026-10-25T00:30:00.000Z');
  expect(wallTime(msOfWallTime('2026-03-29T01:30', 'Europe/Lisbon')!, 'Europe/Lisbon')).toBe('2026-03-29T02:30');
  expect(msOfWallTime('yesterday', 'UTC')).toBeUndefined();
});

test('timeWords() tells the time of the site, not of the desk', () => {
  expect(timeWords(NOW_MS, 'America/Denver')).toBe('23 Nov 2026, 20:12');
  expect(timeWords(NOW_MS, 'Asia/Tokyo')).toBe('24 Nov 2026, 12:12');
});

test('ageWords() tells ages, and names a time to come as a disagreement of clocks', () => {
  expect([3000, 30_000, 200_000, 7_200_000, 3 * 86_400_000].map((age) => plain(ageWords(NOW_MS - age, NOW_MS)))).toEqual(['just now', '30 s ago', '3 min ago', '2 h ago', '3 days ago']);
  expect(plain(ageWords(NOW_MS + 3_000_000, NOW_MS))).toBe('50 min ahead of the clock');
  expect(ageWords(NOW_MS + 5000, NOW_MS)).toBe('just now');
});

test('numbers carry their unit and no digit too many', () => {
  expect([percentWords(0.183), percentWords(0.041), changeWords(0.62), changeWords(-0.04), changeWords(0.001), durationWords(45), durationWords(330), durationWords(2700), durationWords(11_520), durationWords(259_200)].map(plain)).toEqual(['18 %', '4.1 %', '+62 %', '−4 %', 'as before', '45 s', '5.5 min', '45 min', '3.2 h', '3.0 days']);
  expect([valueWords(0.984, 'ratio'), valueWords(6_300_000, 's'), valueWords(1, '0/1'), valueWords(-3.25, '°C'), valueWords(651.8, 'kPa'), valueWords(55.2, '%')].map(plain)).toEqual(['98.4 %', '1,750 h', 'yes', '−3.25 °C', '652 kPa', '55 %']);
  expect([bytesWords(48e9), bytesWords(900)].map(plain)).toEqual(['48 GB', '900 B']);
});

test('sureWords() gives the word and the number, and never says 100 %', () => {
  expect([0.93, 0.84, 0.55, 0.3, 0.999].map((probability) => plain(sureWords(probability)))).toEqual(['very likely, 93 %', 'likely, 84 %', 'more likely than not, 55 %', 'possible, 30 %', 'very likely, > 99 %']);
});

test('a finding is told as sentences: cause with how sure, onset as a range, what moved, evidence on its side', () => {
  const finding = {
    cause: 'leak', causes: [{ cause: 'leak', probability: 0.93 }, { cause: 'check-valve-leaking', probability: 0.07 }], among: null, onset: { earliest: '2026-11-10T00:00:00Z', likely: '2026-11-12T00:00:00Z', latest: '2026-11-14T00:00:00Z' }, openedAt: '2026-11-15T03:10:00Z',
    evidence: [{ says: 'cold', for: 'leak', weight: -0.5 }, { says: 'shrank', for: 'leak', weight: 3 }, { says: 'feed stays up', for: 'check-valve-leaking', weight: 1 }, { says: 'feed falls', for: 'check-valve-leaking', weight: -2 }],
  } as const;
  expect(plain(causeSentence(finding))).toBe('Leak (very likely, 93 %)');
  expect(plain(onsetSentence(finding, 'UTC', NOW_MS))).toBe('Since about 12 Nov (between 10 Nov and 14 Nov); found 15 Nov 2026, 03:10.');
  expect(plain(movedSentence({ dutyRatio: 0.31, baselineDutyRatio: 0.18, demandChange: 0.62, deliveryChange: -0.04 }))).toBe('It runs 31 % of the time, 18 % at its baseline; 62 % more is drawn; 4 % less is delivered.');
  const either = { cause: 'undetermined', causes: [{ cause: 'element-loading', probability: 0.5 }, { cause: 'compressor-side', probability: 0.42 }, { cause: 'leak', probability: 0.08 }], among: ['element-loading', 'compressor-side'] } as const;
  expect(plain(causeSentence(either))).toBe("Can't tell which: element loading up or compressor side (very likely, 92 %)");
  const { speaksFor, speaksAgainst } = evidenceSides(finding);
  expect(speaksFor.map((one) => one.says)).toEqual(['shrank', 'feed falls']);
  expect(speaksAgainst.map((one) => one.says)).toEqual(['feed stays up', 'cold']);
  expect(amongWords(['element-loading', 'drain-stuck-open', 'compressor-side'])).toBe('element loading up, drain stuck open or compressor side');
});

test('waitWords() says by when, from what, and when there is no time to wait', () => {
  const serviceBy = { limit: 'dutyRatio', earliest: '2026-12-05T00:00:00Z', likely: '2026-12-17T00:00:00Z', latest: null } as const;
  expect(waitWords({ cause: 'leak', serviceBy, dueBy: null }, 'UTC', NOW_MS)).toEqual({ until: '17 Dec', says: 'can wait until 17 Dec', because: 'limit of duty ratio from 5 Dec on, perhaps not at all', due: 'later' });
  expect(waitWords({ cause: 'leak', serviceBy, dueBy: '2026-11-28T00:00:00Z' }, 'UTC', NOW_MS)).toEqual({ until: '28 Nov', says: 'can wait until 28 Nov', because: 'service due by days or hours', due: 'soon' });
  // NOW_MS is the morning of 24 Nov: a date of the last look is now, an older one was.
  expect(waitWords({ cause: 'leak', serviceBy: { ...serviceBy, earliest: '2026-11-23T23:00:00Z' }, dueBy: null }, 'UTC', NOW_MS)).toMatchObject({ until: 'now', says: 'its date is now', because: 'limit of duty ratio may be passed already', due: 'now' });
  expect(waitWords({ cause: 'leak', serviceBy: null, dueBy: '2026-11-21T12:00:00Z' }, 'UTC', NOW_MS)).toMatchObject({ until: 'past: 21 Nov', says: 'its date was 21 Nov', due: 'now' });
  expect(waitWords({ cause: 'leak', serviceBy: { ...serviceBy, earliest: '2026-11-23T23:00:00Z', likely: '2026-11-23T23:00:00Z', latest: '2026-11-23T23:00:00Z' }, dueBy: null }, 'UTC', NOW_MS).because).toBe('limit of duty ratio is passed');
  expect(waitWords({ cause: 'not-starting', serviceBy: null, dueBy: null }, 'UTC', NOW_MS).due).toBe('now');
  expect(waitWords({ cause: null, serviceBy: null, dueBy: null }, 'UTC', NOW_MS).due).toBe('none');
});

test('bandDaysOf() shows a rest that does not end, and leaves a day open that is hardly known', () => {
  const day = (changes: Partial<DayRow>) => ({ day: '2026-10-01', coveredS: 86_400, runS: 8000, restS: 78_400, starts: 20, longestRunS: 500, longestRestS: 90_000, ...changes }) as DayRow;
  expect(bandDaysOf([day({})])).toEqual([{ day: '2026-10-01', runS: 400, restS: 3920 }]);
  expect(bandDaysOf([day({ starts: 0, runS: 0, restS: 86_400 })])).toEqual([{ day: '2026-10-01', runS: 0, restS: 90_000 }]);
  expect(bandDaysOf([day({ source: 'duty', starts: 0 })])).toEqual([{ day: '2026-10-01', runS: null, restS: null }]);
  expect(bandDaysOf([day({ coveredS: 3000 })])).toEqual([{ day: '2026-10-01', runS: null, restS: null }]);
});
