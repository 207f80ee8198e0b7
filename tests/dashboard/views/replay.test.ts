// Issue: "Worlds", the engineer's page: truth and findings on one time line with the rest band under it.
import { expect, test } from 'vitest';
import { largeRestBandSvg, restBandShapes } from '../../../dashboard/views/rest-band-svg.ts';
import { replayLineSays, replayLineSvg, replayShapes } from '../../../dashboard/views/replay-line-svg.ts';
import { delayWords, faultOutcomeWords, replayedFindingWords, replaySummaryWords } from '../../../dashboard/views/replay-words.ts';
import type { ReplayedFault, ReplayedFinding, ReplayedGenerator, ReplaySummary } from '../../../shared/world-replay.ts';

const fault: ReplayedFault = { cause: 'leak', severity: 'plain', onset: '2026-01-15T00:00:00.000Z', end: '2026-01-25T00:00:00.000Z', outcome: 'found', causeRight: true, said: 'leak', delayH: 76.8 };
const finding: ReplayedFinding = { openedAt: '2026-01-18T04:48:00.000Z', closedAt: null, cause: 'leak', among: null, probability: 0.91, outcome: 'right', because: [] };
const days = Array.from({ length: 30 }, (_, index) => ({ day: `2026-01-${String(index + 1).padStart(2, '0')}`, runS: 400, restS: 3000 }));
const one: ReplayedGenerator = { site: 'a', generator: 'g', zone: 'UTC', channels: ['running'], days, faults: [fault], upsets: [{ kind: 'cold-snap', from: '2026-01-03T00:00:00.000Z', to: '2026-01-04T00:00:00.000Z' }], visits: ['2026-01-25T12:00:00.000Z'], findings: [finding] };

test('replayShapes() puts truth and findings over their days of the rest band', () => {
  const widthPx = 676;
  const shapes = replayShapes(one, widthPx);
  // The band beneath is 62 px from the left and 14 from the right: 600 px for 30 days.
  const band = restBandShapes(days, { widthPx: 600, heightPx: 100 }, ['2026-01-25']);
  expect(shapes.truth[0]).toMatchObject({ kind: 'truth', xPx: 62 + (band.columns[14]?.xPx ?? NaN), widthPx: 200 });
  expect(shapes.found[0]?.xPx).toBeCloseTo(62 + 17.2 * 20, 6);
  expect((shapes.found[0]?.xPx ?? 0) + (shapes.found[0]?.widthPx ?? 0)).toBeCloseTo(662, 6);
  expect(shapes.upsets[0]).toMatchObject({ xPx: 102, widthPx: 20 });
  expect(Math.abs((shapes.visitXPx[0] ?? 0) - 62 - (band.visitXPx[0] ?? 0))).toBeLessThan(2);
  expect(largeRestBandSvg(days, { widthPx, heightPx: 160 })).toContain('M62 132.5h600');
});

test('replayShapes() counts days by the clock of the site', () => {
  const east = replayShapes({ ...one, zone: 'Asia/Tokyo' }, 676).truth[0]?.xPx ?? 0;
  expect(east - (replayShapes(one, 676).truth[0]?.xPx ?? 0)).toBeCloseTo((9 / 24) * 20, 6);
});

test('replayShapes() keeps what lies outside of the days at their edge', () => {
  const early = replayShapes({ ...one, faults: [{ ...fault, onset: '2025-12-01T00:00:00.000Z', end: '2027-01-01T00:00:00.000Z' }] }, 676).truth[0];
  expect(early).toMatchObject({ xPx: 62, widthPx: 600 });
});

test('replayLineSvg() escapes names, keeps words inside a phone’s width, and says all in its name', () => {
  const svg = replayLineSvg({ ...one, upsets: [{ ...one.upsets[0]!, kind: '<b>' }], findings: [{ ...finding, cause: 'undetermined', among: ['element-loading', 'drain-stuck-open', 'compressor-side'], outcome: 'false' }] }, 340);
  expect(svg).not.toContain('<b>');
  for (const [, x, words] of svg.matchAll(/class="replay-words"[^>]* x="([\d.]+)"[^>]*>([^<]*)</g)) expect(Number(x) + (words ?? '').length * 6.8).toBeLessThanOrEqual(341);
  expect(svg).toContain('class="replay-false"');
  expect(replayLineSays(one)).toBe('True: Leak, plain (found after 3.2 d, cause right). Found: Leak, 91\u00a0% (right).');
  expect(replayLineSays({ ...one, faults: [], findings: [] })).toBe('Nothing was wrong. Nothing was found.');
  expect(replayLineSvg({ ...one, faults: [], findings: [], upsets: [], visits: [] }, 340)).toContain('Nothing was wrong, nothing was found.');
});

test('faultOutcomeWords() tells found from missed, and a wrong cause by its name', () => {
  expect(faultOutcomeWords({ ...fault, causeRight: false, said: 'drain-stuck-open' })).toBe('found after 3.2 d, cause wrong: drain stuck open');
  expect(faultOutcomeWords({ ...fault, outcome: 'missed', causeRight: null, said: null, delayH: null })).toBe('missed');
  expect(faultOutcomeWords({ ...fault, outcome: 'young', causeRight: null, said: null, delayH: null })).toBe('too young to be found');
  expect([delayWords(5.2), delayWords(47.4), delayWords(72), delayWords(644)]).toEqual(['5 h', '47 h', '3.0 d', '27 d']);
  expect(replayedFindingWords({ ...finding, cause: 'undetermined', among: ['leak', 'check-valve-leaking'] })).toMatch(/leak.*check valve leaking back.*91/i);
});

test('replaySummaryWords() counts, and tells the rate with its limits', () => {
  const summary = { generatorYears: 2, faults: 4, found: 3, missed: 1, apart: 0, causeRight: 2, delayMedianH: 30, falseFindings: 1, falsePerYear: { value: 0.5, low: 0.01, high: 2.79 } };
  const result = (changes: Partial<typeof summary>): ReplaySummary => ({ ...summary, ...changes });
  expect(replaySummaryWords(result({}))).toBe('Of 4 true faults 3 found, 1 missed. The cause was right 2 times of 3; half were found within 30 h. 1 false finding in 2.0 generator-years: between 0.01 and 2.79 a generator-year.');
  expect(replaySummaryWords(result({ faults: 1, found: 1, missed: 0, causeRight: 1 }))).toContain('Of 1 true fault 1 found, 0 missed. The cause was right 1 time of 1; it was found within 30 h.');
  expect(replaySummaryWords(result({ faults: 0, found: 0, missed: 0 }))).toMatch(/^Nothing was wrong\. 1 false finding/);
  expect(replaySummaryWords(result({ found: 0, missed: 3, apart: 1 }))).toMatch(/^Of 4 true faults 0 found, 3 missed; 1 not judged\. 1 false/);
});
