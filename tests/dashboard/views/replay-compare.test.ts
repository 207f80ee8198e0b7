// Issue: "Screens", the engineer's page: two settings on the same input side by side; what is found against what it costs.
import { expect, test } from 'vitest';
import { curveMarks, operatingCurveSays, operatingCurveSvg, variedSetting } from '../../../dashboard/views/operating-curve-svg.ts';
import { findingPairs } from '../../../dashboard/views/replay-compare.ts';
import { faultOutcomeWords, measureWords, replaySideWords } from '../../../dashboard/views/replay-words.ts';
import { replayLineSays, replayLineSvg } from '../../../dashboard/views/replay-line-svg.ts';
import type { CampaignPoint, KeptCampaign, ReplayedFinding, ReplayedGenerator, ReplaySide } from '../../../shared/world-replay.ts';

const settings = { falseFindingsPerYear: 0.05, baselineDays: 14, smallestChange: 0.1, horizonDays: 365 };
const finding = (openedAt: string, cause: ReplayedFinding['cause'] = 'leak'): ReplayedFinding => ({ openedAt: `${openedAt}:00.000Z`, closedAt: null, cause, among: null, probability: 0.9, outcome: 'unjudged', because: [] });
const generator = (findings: readonly ReplayedFinding[], id = 'g'): ReplayedGenerator => ({ site: 's', generator: id, zone: 'UTC', channels: [], days: [{ day: '2026-01-01', runS: 60, restS: 600 }, { day: '2026-01-02', runS: 60, restS: 600 }], faults: [], upsets: [], visits: [], findings });
const side = (...generators: readonly ReplayedGenerator[]): ReplaySide => ({ settings, hash: 'h', summary: null, generators });

test('findingPairs() puts the same finding of both sides on one line and says which is earlier', () => {
  const a = side(generator([finding('2026-01-10T12:00'), finding('2026-03-01T00:00', 'drain-stuck-open')]), generator([], 'quiet'));
  const b = side(generator([finding('2026-01-08T06:00'), finding('2026-03-02T00:00', 'compressor-side'), finding('2026-05-01T00:00', 'sensor-fault')]), generator([finding('2026-02-01T00:00')], 'quiet'));
  expect(findingPairs(a, b).map((one) => [one.generator, one.a?.cause ?? null, one.b?.cause ?? null, one.says])).toEqual([
    ['g', 'leak', 'leak', 'B 2.3 d earlier'],
    ['g', 'drain-stuck-open', 'compressor-side', 'B 24 h later, another cause: Compressor side, 90\u00a0%'],
    ['g', null, 'sensor-fault', 'only B'],
    ['quiet', null, 'leak', 'only B'],
  ]);
});

test('findingPairs() takes each finding once, and none that is far off', () => {
  const a = side(generator([finding('2026-01-10T00:00'), finding('2026-01-12T00:00')]));
  const b = side(generator([finding('2026-01-12T00:00')]));
  expect(findingPairs(a, b).map((one) => one.says)).toEqual(['only A', 'at the same time']);
  expect(findingPairs(side(generator([finding('2026-01-01T00:00')])), side(generator([finding('2026-02-01T00:00')]))).map((one) => one.says)).toEqual(['only A', 'only B']);
});

test('what is not judged is never called right, false or found', () => {
  const one = { ...generator([finding('2026-01-02T00:00')]), faults: [{ cause: 'leak', severity: 'plain', onset: '2026-01-01T06:00:00.000Z', end: null, outcome: 'laid-over', causeRight: null, said: 'leak', delayH: 18 }] } satisfies ReplayedGenerator;
  expect(faultOutcomeWords(one.faults[0]!)).toBe('the next finding opened 18 h later: leak');
  expect(faultOutcomeWords({ ...one.faults[0]!, said: null, delayH: null })).toBe('no new finding opened after it');
  expect(replayLineSays(one)).toBe('Laid over: Leak, plain (the next finding opened 18 h later: leak). Found: Leak, 90\u00a0% (not judged).');
  expect(replayLineSays(generator([finding('2026-01-02T00:00')]))).toMatch(/^What was true is not known\. Found: Leak/);
  expect(replayLineSvg(one, 400)).toContain('Laid over: Leak, plain');
  expect(replaySideWords(side(one, generator([], 'x')))).toBe('1 finding at 1 of 2 generators.');
  expect(replaySideWords(side(generator([])))).toBe('No finding.');
});

test('measureWords() gives each figure its unit', () => {
  const words = (measure: string, value: number | null): string => measureWords({ measure, a: value, b: null, better: null }, value);
  expect([words('found share', 0.55), words('leak: delay, half, h', 30), words('false findings a generator-year', 1.7342), words('x', null)]).toEqual(['55\u00a0%', '30 h', '1.734', '–']);
});

const point = (asked: number, found: number, missed: number, value: number, low: number, high: number): CampaignPoint => ({ settings: { ...settings, falseFindingsPerYear: asked }, hash: `h${asked}`, generatorYears: 10, faults: found + missed, found, missed, causeRight: found, delayMedianH: 40, falseFindings: Math.round(value * 10), falsePerYear: { value, low, high }, bySeverity: [] });
const campaign: KeptCampaign = { id: 'c', says: 'Campaign <1>', purpose: 'tuning', at: '2026-11-24T00:00:00.000Z', version: '0', generators: 20, days: 180, points: [point(0.05, 5, 5, 1, 0.5, 1.6), point(1, 8, 2, 3, 2.2, 4.1)] };

test('curveMarks() stands on scales that begin at nothing and hold the ranges', () => {
  const { marks, ticks } = curveMarks(campaign.points, 480);
  // 400 px for 0 to 5 false findings, 184 px for the share.
  expect(ticks.map((one) => one.words)).toEqual(['0', '1', '2', '3', '4', '5']);
  expect(marks.map((one) => [one.xPx, one.yPx, one.lowPx].map((px) => Math.round(px * 10) / 10))).toEqual([[136, 122, 96], [296, 66.8, 232]]);
  expect(marks[1]!.highPx).toBeLessThanOrEqual(480 - 24);
  expect(curveMarks([point(0.05, 0, 0, 0, 0, 0.3)], 480).marks).toEqual([]);
});

test('a campaign that varies another setting says which', () => {
  const other = { ...campaign, points: [0.05, 0.2].map((smallestChange) => ({ ...point(0.05, 5, 5, 1, 0.5, 1.6), settings: { ...settings, smallestChange } })) };
  expect([variedSetting(other.points), variedSetting(campaign.points), variedSetting(campaign.points.slice(0, 1))]).toEqual(['smallestChange', 'falseFindingsPerYear', 'falseFindingsPerYear']);
  expect(curveMarks(other.points, 480).marks.map((one) => one.words)).toEqual(['change 0.05', 'change 0.2']);
});

test('operatingCurveSvg() says the curve in its name, and escapes', () => {
  const svg = operatingCurveSvg(campaign, 480);
  expect(svg).not.toContain('<1>');
  expect(operatingCurveSays(campaign)).toBe('Campaign <1>. Found share against false findings a generator-year. asked 0.05: 50 % found at 1.00 false; asked 1: 80 % found at 3.00 false.');
  expect(svg).toContain('class="curve-line"');
  // Words of near points don't cover each other.
  const near = operatingCurveSvg({ ...campaign, points: [point(0.05, 50, 50, 1.1, 0.7, 1.6), point(0.2, 52, 48, 1.2, 0.7, 1.7), point(0.5, 53, 47, 1.25, 0.8, 1.8)] }, 340);
  const places = [...near.matchAll(/text-anchor="(start|end)" x="([\d.]+)" y="([\d.]+)">asked/g)].map(([, anchor, x, y]) => ({ from: anchor === 'end' ? Number(x) - 60 : Number(x), y: Number(y) }));
  expect(places).toHaveLength(3);
  for (const [index, a] of places.entries()) for (const b of places.slice(index + 1)) expect(Math.abs(a.from - b.from) >= 60 || Math.abs(a.y - b.y) >= 12).toBe(true);
  expect(operatingCurveSvg({ ...campaign, points: campaign.points.slice(0, 1) }, 480)).not.toContain('class="curve-line"');
});
