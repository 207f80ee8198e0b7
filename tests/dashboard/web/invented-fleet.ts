import type { Status } from '../../../shared/api.ts';
import type { Channel } from '../../../shared/channels.ts';
import type { Cycle, DayRow } from '../../../shared/cycle.ts';
import { entrySchema } from '../../../shared/entry.ts';
import type { Cause, DataState, Finding, Forecast, RankingRow } from '../../../shared/finding.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { type Reading, readingBatch } from '../../../shared/reading-batch.ts';
import { generatorsOf, type Registry, type RegisteredGenerator, siteSchema } from '../../../shared/registry.ts';
import { openMemoryReadings } from '../../../shared/store/memory-readings.ts';
import type { BeforeAfter, GeneratorReview, Verification } from '../../../shared/review.ts';
import { openMemoryRecords } from '../../../shared/store/memory-records.ts';
import type { ReadingStore } from '../../../shared/store/reading-store.ts';
import type { RecordStore } from '../../../shared/store/record-store.ts';

/* A fleet that is plainly invented, as analysis would have written it, for tests of the pages. No dice: every number follows from its place. */

export const NOW_MS = Date.parse('2026-11-24T03:12:00Z');
const DAY_MS = 86_400_000;
const NAMES = ['Quay cold store', 'Paper mill annex', 'Tram depot', 'Museum archive', 'Ice rink', 'Parcel hall', 'Observatory', 'Boat shed with a rather long name for its door plate', 'Seed bank', 'Opera store', 'Dairy', 'Print works'];
const AREAS = ['harbour', 'hills', 'old town', 'airfield'];
const ZONES = ['Europe/Lisbon', 'America/Denver', 'Asia/Tokyo'];

type Story = { readonly cause: Cause | null; readonly among?: readonly Cause[]; readonly probability: number; readonly demand: number; readonly delivery: number; readonly dataState: DataState; readonly state: Finding['state'] };
const STORIES: readonly Story[] = [
  { cause: 'valve-left-shut', probability: 0.88, demand: -0.55, delivery: 0, dataState: 'reporting', state: 'new' },
  { cause: 'leak', probability: 0.93, demand: 0.62, delivery: -0.04, dataState: 'reporting', state: 'new' },
  { cause: 'element-loading', probability: 0.81, demand: 0.05, delivery: -0.34, dataState: 'reporting', state: 'acknowledged' },
  { cause: 'undetermined', among: ['element-loading', 'drain-stuck-open', 'compressor-side'], probability: 0.97, demand: 0.02, delivery: -0.45, dataState: 'partly-reporting', state: 'new' },
  { cause: 'drain-stuck-open', probability: 0.58, demand: 0, delivery: -0.22, dataState: 'reporting', state: 'planned' },
  { cause: 'not-starting', probability: 0.99, demand: 0, delivery: 0, dataState: 'not-reporting', state: 'new' },
  { cause: 'sensor-fault', probability: 0.74, demand: 0.31, delivery: 0.28, dataState: 'reporting', state: 'verifying' },
];
const QUIET: Story = { cause: null, probability: 0, demand: 0, delivery: 0, dataState: 'reporting', state: 'new' };

/** A steady wobble of ±1 that depends on the place only. */
const wobble = (a: number, b: number): number => Math.sin(a * 12.9898 + b * 78.233);

export function storyOf(index: number): Story {
  const story = STORIES[index];
  if (story !== undefined) return story;
  if (index % 23 === 11) return { ...QUIET, dataState: 'not-reporting' };
  if (index % 17 === 9) return { ...QUIET, dataState: 'learning' };
  return { ...QUIET, demand: 0.14 * wobble(index, 1), delivery: 0.06 * wobble(index, 2) };
}

export function inventedRegistry(generators: number): Registry {
  const sites = Array.from({ length: Math.ceil(generators / 2) }, (_, index) => {
    const ids = [0, 1].map((n) => index * 2 + n).filter((n) => n < generators);
    return siteSchema.parse({
      id: `site-${index + 1}`, name: `${NAMES[index % NAMES.length]} ${index + 1}`, timeZone: ZONES[index % ZONES.length], area: AREAS[index % AREAS.length], access: 'ring at gate B, weekdays 07:00-16:00',
      generators: ids.map((_n, at) => ({ id: `gen-${at + 1}`, name: `Generator ${at + 1}`, tankLitres: 115, cutInKPa: 550, cutOutKPa: 700, reportEveryS: 300 })),
    });
  });
  return { sites };
}

function daysOf(one: RegisteredGenerator, index: number, days: number): DayRow[] {
  const story = storyOf(index);
  return Array.from({ length: days }, (_, at): DayRow[] => {
    const startMs = Math.floor(NOW_MS / DAY_MS) * DAY_MS - (days - 1 - at) * DAY_MS;
    if (index % 5 === 1 && at % 40 >= 20 && at % 40 < 24) return [];
    const since = Math.max(0, Math.min(1, (at - (days - 18)) / 12));
    const demand = 4 * (1 + 0.08 * wobble(index, at)) * (1 + story.demand * since);
    const delivery = 26 * (1 + 0.03 * wobble(at, index)) * (1 + story.delivery * since);
    const dutyRatio = Math.min(1, demand / delivery);
    const restMin = 180 / demand;
    const runMin = (restMin * dutyRatio) / Math.max(0.02, 1 - dutyRatio);
    const coveredS = 86_000;
    return [{
      generator: one.key, day: new Date(startMs).toISOString().slice(0, 10), startMs, endMs: startMs + DAY_MS, provisional: at === days - 1, source: 'running', coveredS, runS: coveredS * dutyRatio, restS: coveredS * (1 - dutyRatio),
      starts: Math.max(1, Math.round(coveredS / 60 / (restMin + runMin))), dutyRatio, unit: 'NL/min', demand: { value: demand, se: 0.1 }, delivery: { value: delivery, se: 0.3 }, longestRunS: runMin * 90, longestRestS: restMin * 90,
      cutInKPa: 550, cutOutKPa: 700, nitrogen: { value: 0.983 - 0.01 * since * Math.max(0, -story.delivery), se: 0.001 }, dischargeKPa: { value: 840 + 30 * since, se: 2 }, feedKPa: { value: 805, se: 2 },
      elementDropKPa: { value: 22 + (story.cause === 'element-loading' ? 46 * since : 0) + wobble(at, 3), se: 1 }, systemKPa: { value: 240, se: 1 }, roomC: 18, pipeC: 12, humidityPercent: 55, holdingRatio: 1, heard: { running: 300, 'tank-pressure': 288 },
    }];
  }).flat();
}

const iso = (ms: number): string => new Date(ms).toISOString();

function findingOf(one: RegisteredGenerator, index: number): Finding | undefined {
  const story = storyOf(index);
  if (story.cause === null) return undefined;
  const rest = Math.max(0, 1 - story.probability);
  return {
    id: `finding-${index}`, site: one.site.id, generator: one.generator.id, openedAt: iso(NOW_MS - 9 * DAY_MS), onset: { earliest: iso(NOW_MS - 15 * DAY_MS), likely: iso(NOW_MS - 12 * DAY_MS), latest: iso(NOW_MS - 11 * DAY_MS) },
    cause: story.cause, causes: [{ cause: story.cause, probability: story.probability }, { cause: story.cause === 'leak' ? 'check-valve-leaking' : 'compressor-side', probability: rest }], among: story.among ?? null,
    missingChannels: story.cause === 'undetermined' ? ['discharge-pressure', 'feed-pressure'] : [], alongside: [], history: [], settings: 'invented',
    evidence: [
      { says: 'the rest shrank from 45 min to 28 min while runs stayed at 7 min', for: story.cause, weight: 3.1 },
      { says: 'refills of the piping became more frequent', for: story.cause, weight: 1.4 },
      { says: 'a cold spell explains a part of it', for: story.cause, weight: -0.6 },
    ],
    state: story.state, shelvedUntil: null, closedAt: null, closedReason: null,
  };
}

function rowOf(one: RegisteredGenerator, index: number, days: readonly DayRow[]): RankingRow {
  const story = storyOf(index);
  const learning = story.dataState === 'learning';
  const now = days.at(-1)?.dutyRatio ?? null;
  const soon = index < 5;
  return {
    rank: index + 1, site: one.site.id, generator: one.generator.id, dataState: story.dataState, dutyRatio: now, baselineDutyRatio: learning ? null : 0.154, demandChange: learning ? null : story.demand, deliveryChange: learning ? null : story.delivery,
    cause: story.cause, causes: story.cause === null ? [] : [{ cause: story.cause, probability: story.probability }],
    serviceBy: soon ? { limit: index === 2 ? 'elementDropKPa' : 'dutyRatio', earliest: iso(NOW_MS + (5 + index * 6) * DAY_MS), likely: iso(NOW_MS + (14 + index * 9) * DAY_MS), latest: index % 2 === 0 ? null : iso(NOW_MS + 90 * DAY_MS) } : null,
    forecasts: soon ? [forecastOf(index)] : [], dueBy: index % 3 === 0 ? iso(NOW_MS + (40 + index) * DAY_MS) : null, because: story.cause === null ? 'nothing found' : 'nearest limit and surest cause', findings: story.cause === null ? [] : [`finding-${index}`],
  };
}

function forecastOf(index: number): Forecast {
  const at = (days: number): string => iso(NOW_MS + days * DAY_MS);
  return { limit: index === 2 ? 'elementDropKPa' : 'dutyRatio', earliest: at(5 + index * 6), quarterFrom: at(9 + index * 7), likely: at(14 + index * 9), quarterTo: at(30 + index * 9), latest: index % 2 === 0 ? null : at(90) };
}

/** Run and rest of 52 minutes, as the raw readings below have them; a gap of half a day is left open. */
function cyclesOf(one: RegisteredGenerator, days: number): Cycle[] {
  const periodMs = 52 * 60_000;
  const firstMs = Math.ceil((NOW_MS - days * DAY_MS) / periodMs) * periodMs;
  return Array.from({ length: Math.floor((NOW_MS - firstMs) / periodMs) }, (_, at): Cycle[] => {
    const startMs = firstMs + at * periodMs;
    const shrink = Math.max(0.55, 1 - at / 800);
    if (at > 200 && at < 214) return [];
    return [{ generator: one.key, startMs, runS: 460 + 40 * wobble(at, 1), restS: 2600 * shrink, source: 'running', cut: at === 214, fallKPaPerMin: 3.3 / shrink, riseKPaPerMin: 19 + wobble(at, 2), startKPa: 550, stopKPa: 700 }];
  }).flat();
}

function readingsOf(one: RegisteredGenerator, index: number, days: number): Reading[] {
  const newestMs = storyOf(index).dataState === 'not-reporting' ? NOW_MS - 3 * DAY_MS : NOW_MS - 20_000 - (index % 7) * 11_000;
  const readings: Reading[] = [];
  const push = (channel: Channel, atMs: number, value: number): void => void readings.push({ generator: one.key, channel, atMs, value, quality: 0, receivedMs: atMs + 1000 });
  for (let atMs = newestMs - days * DAY_MS; atMs <= newestMs; atMs += 300_000) {
    const phase = ((atMs / 60_000) % 52) / 52;
    if (index === 1 && atMs > newestMs - 0.5 * DAY_MS && atMs < newestMs - 0.35 * DAY_MS) continue;
    push('running', atMs, phase < 0.15 ? 1 : 0);
    push('tank-pressure', atMs, phase < 0.15 ? 550 + 1000 * phase : 700 - 176 * (phase - 0.15));
    push('system-pressure', atMs, 240 + 2 * wobble(atMs / 3e5, 1));
    push('nitrogen', atMs, 0.983 + 0.001 * wobble(atMs / 3e5, 2));
    push('room-temperature', atMs, 18 + 3 * Math.sin(atMs / 1.4e7));
    push('run-time', atMs, 6_300_000 + (atMs - newestMs) * 1.8e-4);
  }
  return readings;
}

const REVIEWED = 'site-1/gen-2' as GeneratorKey;

/** What analysis writes for the page of site-1/gen-2; every figure invented. */
function inventedReview(atMs: number): GeneratorReview {
  return {
    generator: REVIEWED, atMs,
    urgency: { ifStopsHours: 8.9, ifShutHours: 7.1, pipingFallKPaPerHour: 8.5, fallFrom: 'measured', systemKPa: 240, lowPressureKPa: 180, says: 'If it stops now, the low-pressure signal of the piping comes in about 8.9 h: the tank carries it for 1.8 h, then the piping falls by 8.5 kPa/h (as measured while nothing fed it) from 240 to 180 kPa.' },
    canShow: { smallest: [{ series: 'demand', scatter: 0.06, baselineDays: 60, within3Days: 0.42, within10Days: 0.24 }], says: ['A lasting rise of demand of 24 % or more would be seen within 10 days, of 42 % or more within 3 days; from day to day it scatters by 6 %.'] },
    leakTerms: { unit: 'NL/min', demandNLPerMin: 3.1, standardLitresPerMin: 3.33, holeMm: { piping: 0.37, tank: 0.25 }, fallIn24hKPa: 120, fallIn2hKPa: 18, energyKWhPerYear: 1310, costPerYear: null, says: ['One sharp-edged round hole of that flow: 0.37 mm in the piping at 240 kPa.', 'An indication from running times, never a test result: all demand is taken as lost, purge vents and the cold included.'] },
  };
}

function inventedLooks(finding: string): Verification[] {
  const visitedAtMs = NOW_MS - 45 * DAY_MS + 5_400_000;
  const side = (days: number, dutyRatio: number): BeforeAfter => ({ days, dutyRatio, meanRunMin: 8, meanRestMin: 40, demand: null, delivery: null, unit: 'relative', elementDropKPa: null, nitrogen: null });
  const look = (name: Verification['look'], hours: number, more: Partial<Verification>): Verification => ({ generator: REVIEWED, visit: 'visit-1', visitedAtMs, look: name, atMs: visitedAtMs + hours * 3_600_000, verdict: 'not enough data yet', before: side(0, 0.3), after: side(0, 0.2), says: [], recurrence: null, ...more });
  return [look('4 h', 4, { says: ['2 whole cycles since the visit, and 14 earlier days at these hours: 3 of each are the least that can be compared.'] }), look('days', 360, { verdict: 'improved', before: side(14, 0.31), after: side(14, 0.19), says: ['Run time 31 % before, 19 % after (−39 %).'], recurrence: [finding, finding] })];
}

export type InventedFleet = { readonly registry: readonly RegisteredGenerator[]; readonly readings: ReadingStore; readonly records: RecordStore; readonly status: () => Status };

/** Stores in memory with `generators` generators and `days` days; raw readings for the first 12 of them. */
export async function inventedFleet(generators: number, days = 120): Promise<InventedFleet> {
  const registry = generatorsOf(inventedRegistry(generators));
  const readings = openMemoryReadings();
  const records = openMemoryRecords();
  const allDays = registry.map((one, index) => daysOf(one, index, days));
  const findings = registry.flatMap((one, index) => findingOf(one, index) ?? []);
  const ranking = registry.map((one, index) => rowOf(one, index, allDays[index] ?? []));
  const tickMs = NOW_MS - 120_000;
  await records.saveAnalysis({ tickMs, replaced: [], days: allDays.flat(), cycles: registry.slice(0, 3).flatMap((one) => cyclesOf(one, 21)), findings, checkpoints: [], hotStates: [], report: { at: iso(tickMs), ranking, findings } });
  for (const [index, one] of registry.entries()) await readings.append(readingBatch(readingsOf(one, index, index < 12 ? 2 : 0)));
  const visit = { site: 'site-1', generator: 'gen-2', kind: 'service', startedAt: iso(NOW_MS - 45 * DAY_MS), finishedAt: iso(NOW_MS - 45 * DAY_MS + 5_400_000), replaced: ['coalescing-element', 'o-rings'], readings: { asFound: { elementDropKPa: 41 }, asLeft: { elementDropKPa: 22 } }, by: 'A. Invented', note: 'drain cleaned as well' };
  await records.saveEntry(entrySchema.parse({ id: 'visit-1', ...visit }), 'A. Invented');
  await records.saveAnalysis({ tickMs, replaced: [], days: [], cycles: [], findings: [], checkpoints: [], hotStates: [], reviews: [inventedReview(tickMs)], verifications: inventedLooks(findings[0]?.id ?? '') });
  const gateways = [...new Set(registry.map((one) => one.site.id))].slice(0, 20);
  for (const [index, site] of gateways.entries()) await records.savePresence({ atMs: NOW_MS - 3 * DAY_MS, site, gateway: 'box-1', online: index !== 2, generators: registry.filter((one) => one.site.id === site).map((one) => one.key) });
  await records.quarantine([
    { id: 0, receivedMs: NOW_MS - 600_000, topic: 'lull/v1/site-1/gen-1/readings', payload: '[{"n":"tank-pressure","u":"furlong","v":7}]', reason: 'unknown-unit', says: 'The unit "furlong" is not known for tank-pressure. Send Pa, kPa, bar or [psi].', generator: 'site-1/gen-1', channel: 'tank-pressure', releasedMs: null },
    { id: 0, receivedMs: NOW_MS - 900_000, topic: 'lull/v1/site-2/gen-1/readings', payload: '<script>alert("not JSON")</script>', reason: 'malformed', says: 'The payload is no JSON.', generator: 'site-2/gen-1', channel: null, releasedMs: null },
  ]);
  return { registry, readings, records, status: () => statusOf(registry.length, ranking.filter((row) => row.dataState !== 'not-reporting').length) };
}

function statusOf(generators: number, generatorsReporting: number): Status {
  return {
    nowAt: iso(NOW_MS), simulated: true, timeScale: 1, version: '0.1.0', lastTickAt: iso(NOW_MS - 120_000), lastReadingAt: iso(NOW_MS - 20_000), generators, generatorsReporting, brokerConnected: true, brokerSays: 'connected', storeWritable: true,
    queueLength: 0, readingsPerMinute: 48, quarantined: 2, diskFreeBytes: 48e9, storeBytes: 61e6, wants: [],
  };
}

export const keyAt = (fleet: InventedFleet, index: number): GeneratorKey => fleet.registry[index]!.key;
