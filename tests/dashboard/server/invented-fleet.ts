// World: plainly invented sites and generators with findings, days, cycles and readings written by hand, no simulation;
// it stands in for what ingest and analysis write, so that the server is tested alone.
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Packet, ReleaseAnswer, Status } from '../../../shared/api.ts';
import type { Cycle, DayRow } from '../../../shared/cycle.ts';
import type { Entry } from '../../../shared/entry.ts';
import type { Cause, DataState, Finding, FindingAction, RankingRow } from '../../../shared/finding.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { SILENT_LOG } from '../../../shared/log.ts';
import { type Reading, readingBatch } from '../../../shared/reading-batch.ts';
import { generatorSchema, type RegisteredGenerator, siteSchema, type RegistryChange } from '../../../shared/registry.ts';
import { openMemoryReadings } from '../../../shared/store/memory-readings.ts';
import type { ReadingStore } from '../../../shared/store/reading-store.ts';
import type { RecordStore } from '../../../shared/store/record-store.ts';
import { openSqliteRecords } from '../../../shared/store/sqlite-records.ts';
import { type Server, startServer } from '../../../dashboard/server/server.ts';
import type { ServerParams } from '../../../dashboard/server/server-params.ts';

export const DAY_MS = 86_400_000;
/** The invented present: a whole ten minutes, so that it is a tick too. */
export const NOW_MS = Date.parse('2026-11-24T12:00:00Z');
export const iso = (ms: number): string => new Date(ms).toISOString();

const CAUSES_IN_TURN: readonly (Cause | null)[] = ['leak', 'element-loading', 'undetermined', null, 'valve-left-shut', null];
const STATES_IN_TURN: readonly DataState[] = ['reporting', 'reporting', 'partly-reporting', 'reporting', 'reporting', 'not-reporting'];

export const keyAt = (index: number): GeneratorKey => `invented-${Math.floor(index / 2) + 1}/gen-${(index % 2) + 1}` as GeneratorKey;

export function registeredAt(index: number): RegisteredGenerator {
  const key = keyAt(index);
  const [siteId = '', generatorId = ''] = key.split('/');
  const generator = generatorSchema.parse({ id: generatorId, tankLitres: 115, ratedNLPerMin: 28, reportEveryS: 300, ...(index % 2 === 0 && { name: `Generator ${index}` }) });
  const site = siteSchema.parse({ id: siteId, name: index < 2 ? '=Invented, "quoted" warehouse' : `Invented warehouse ${siteId}`, area: 'north', access: 'ring at the gate', timeZone: 'Europe/Lisbon', generators: [generator] });
  return { key, site, generator, claimed: true };
}

export function findingAt(index: number): Finding | undefined {
  const cause = CAUSES_IN_TURN[index % 6] ?? null;
  if (cause === null) return undefined;
  const [site = '', generator = ''] = keyAt(index).split('/');
  const causes = cause === 'undetermined' ? [{ cause: 'drain-stuck-open', probability: 0.5 }, { cause: 'compressor-side', probability: 0.4 }, { cause: 'leak', probability: 0.1 }] as const : [{ cause, probability: 0.93 }, { cause: 'sensor-fault', probability: 0.07 }] as const;
  return {
    id: `invented-finding-${index}`, site, generator, openedAt: iso(NOW_MS - 3 * DAY_MS), onset: { earliest: iso(NOW_MS - 9 * DAY_MS), likely: iso(NOW_MS - 6 * DAY_MS), latest: iso(NOW_MS - 4 * DAY_MS) },
    cause, causes, among: cause === 'undetermined' ? ['drain-stuck-open', 'compressor-side'] : null, missingChannels: cause === 'undetermined' ? ['feed-pressure'] : [], alongside: [],
    history: [{ at: iso(NOW_MS - 3 * DAY_MS), cause, probability: 0.7 }], evidence: [{ says: 'demand rose by 62 %, piping side: more refills are seen', for: cause, weight: 3.1 }],
    settings: '0123456789ab', state: 'new', shelvedUntil: null, closedAt: null, closedReason: null,
  };
}

export function rowAt(index: number): RankingRow {
  const [site = '', generator = ''] = keyAt(index).split('/');
  const finding = findingAt(index);
  const serviceBy = finding === undefined ? null : { earliest: iso(NOW_MS + 5 * DAY_MS), likely: iso(NOW_MS + (20 + index) * DAY_MS), latest: null, limit: 'dutyRatio' as const };
  return {
    rank: index + 1, site, generator, dataState: STATES_IN_TURN[index % 6] ?? 'reporting', dutyRatio: 0.31, baselineDutyRatio: 0.18, demandChange: 0.62, deliveryChange: -0.04,
    cause: finding?.cause ?? null, causes: finding?.causes ?? [], serviceBy, forecasts: serviceBy === null ? [] : [{ ...serviceBy, quarterFrom: serviceBy.earliest, quarterTo: null }],
    dueBy: index % 6 === 5 ? null : iso(NOW_MS + (30 + index) * DAY_MS), because: '-5 % delivery, +62 % demand', findings: finding === undefined ? [] : [finding.id],
  };
}

/** Days end at the present one, which is provisional. The run time of the last 7 days before it is halved where `improvedFrom` says so. */
export function daysOf(key: GeneratorKey, count: number, dutyOf: (daysAgo: number) => number = () => 0.2): DayRow[] {
  return Array.from({ length: count }, (_, index) => {
    const daysAgo = count - 1 - index;
    const startMs = Date.parse('2026-11-24T00:00:00Z') - daysAgo * DAY_MS;
    const dutyRatio = dutyOf(daysAgo) * (1 + 0.02 * (index % 3));
    return {
      generator: key, day: iso(startMs).slice(0, 10), startMs, endMs: startMs + DAY_MS, provisional: daysAgo === 0, source: 'running', coveredS: 86_400, runS: 86_400 * dutyRatio, restS: 86_400 * (1 - dutyRatio), starts: 24, dutyRatio,
      unit: 'NL/min', demand: { value: 5, se: 0.1 }, delivery: { value: 25, se: 0.5 }, longestRunS: 900, longestRestS: 4000, cutInKPa: 550, cutOutKPa: 700, nitrogen: { value: 0.985, se: 0.001 },
      dischargeKPa: null, feedKPa: null, elementDropKPa: { value: 22, se: 1 }, systemKPa: null, roomC: 18, pipeC: null, humidityPercent: null, holdingRatio: 1, heard: { running: 300 },
    } as unknown as DayRow;
  });
}

export function readingsOf(key: GeneratorKey): Reading[] {
  const one = (channel: Reading['channel'], atMs: number, value: number): Reading => ({ generator: key, channel, atMs, value, quality: 0, receivedMs: atMs + 500 });
  const readings: Reading[] = [];
  for (let minute = 12 * 60; minute >= 1; minute -= 5) {
    readings.push(one('tank-pressure', NOW_MS - minute * 60_000, 600 + (minute % 100)), one('run-time', NOW_MS - minute * 60_000, 3_600_000 - minute));
  }
  readings.push(one('running', NOW_MS - 50 * 60_000, 1), one('room-temperature', NOW_MS - 7_200_000, 72));
  return readings;
}

export type Told = { readonly entries: Entry[]; readonly closings: FindingAction[]; readonly registry: RegistryChange[]; readonly released: { ids: readonly number[]; by: string }[] };
export type InventedServer = { readonly server: Server; readonly base: string; readonly records: RecordStore; readonly readings: ReadingStore; readonly told: Told; readonly status: { now: Status }; readonly registered: RegisteredGenerator[]; nowMs: number; stop(): Promise<void> };

export function inventedStatus(generators: number): Status {
  return {
    nowAt: iso(NOW_MS), simulated: true, timeScale: 1, version: '0.0.0-invented', lastTickAt: iso(NOW_MS), lastReadingAt: iso(NOW_MS - 60_000), generators, generatorsReporting: generators - 1,
    brokerConnected: true, brokerSays: 'embedded broker, connected', storeWritable: true, queueLength: 0, readingsPerMinute: 120, quarantined: 1, diskFreeBytes: 1e10, storeBytes: 1e6, wants: [],
  };
}

export async function fillRecords(records: RecordStore, count: number, days: number): Promise<void> {
  const indexes = Array.from({ length: count }, (_, index) => index);
  const findings = indexes.flatMap((index) => findingAt(index) ?? []);
  const cycles: Cycle[] = indexes.slice(0, 6).flatMap((index) => Array.from({ length: 30 }, (_, cycle) => ({ generator: keyAt(index), startMs: NOW_MS - (30 - cycle) * 3_600_000, runS: 600, restS: 3000, source: 'running', cut: false, fallKPaPerMin: 1, riseKPaPerMin: 20, startKPa: 550, stopKPa: 700 }) as const));
  await records.saveAnalysis({
    tickMs: NOW_MS, replaced: [], checkpoints: [], hotStates: [], cycles, findings, days: indexes.flatMap((index) => daysOf(keyAt(index), days)),
    report: { at: iso(NOW_MS), ranking: indexes.map((index) => rowAt(index)), findings },
  });
}

/** A real server on a free port over a real SQLite file. `count` generators are ranked, one more is registered and was never heard. */
export async function startInvented(options: { readonly count?: number; readonly days?: number; readonly webFolder?: string; readonly port?: number; readonly change?: Partial<ServerParams> } = {}): Promise<InventedServer> {
  const count = options.count ?? 6;
  const folder = await mkdtemp(join(tmpdir(), 'lull-server-'));
  const records = await openSqliteRecords({ file: join(folder, 'records.sqlite') });
  const readings = openMemoryReadings();
  await fillRecords(records, count, options.days ?? 60);
  await readings.append(readingBatch(Array.from({ length: Math.min(count, 6) }, (_, index) => readingsOf(keyAt(index))).flat().sort((a, b) => a.receivedMs - b.receivedMs)));
  await records.savePresence({ atMs: NOW_MS - DAY_MS, site: 'invented-1', gateway: 'box-1', online: true, generators: [keyAt(0), keyAt(1)] });
  await records.quarantine([{ id: 0, receivedMs: NOW_MS - 60_000, topic: `lull/v1/${keyAt(0)}/readings`, payload: '[{"n":"tank-pressure","u":"furlong","v":3}]', reason: 'unknown-unit', says: 'furlong is no unit of pressure', generator: keyAt(0), channel: 'tank-pressure', releasedMs: null }]);
  const told: Told = { entries: [], closings: [], registry: [], released: [] };
  const registered = Array.from({ length: count + 1 }, (_, index) => registeredAt(index));
  const packet: Packet = { at: iso(NOW_MS - 60_000), topic: `lull/v1/${keyAt(0)}/readings`, payload: '[]', readings: 2, refused: [] };
  const invented = { nowMs: NOW_MS, status: { now: inventedStatus(count) } };
  const server = await startServer({
    host: '127.0.0.1', port: options.port ?? 0, webFolder: options.webFolder ?? join(folder, 'no-such-web'), readings, records, registry: { current: () => registered },
    ingest: {
      recentPackets: (key) => (key === keyAt(0) ? [packet] : []),
      sentUnit: (key, channel) => (key === keyAt(0) && channel === 'tank-pressure' ? 'Pa' : null),
      heard: (key) => (key === keyAt(0) ? { lastHeardMs: NOW_MS - 30_000, reportEveryS: 60 } : undefined),
      typeIn: async () => [],
      async release(ids, by): Promise<ReleaseAnswer> {
        told.released.push({ ids, by });
        return { released: ids.length - 1, stillRefused: 1 };
      },
    },
    notices: { mailFrom: null, publicUrl: null, test: async () => { throw new Error('no rule is tested here'); }, retry: async () => undefined },
    status: () => invented.status.now, clock: { nowMs: () => invented.nowMs }, log: SILENT_LOG, simulated: true, onEntry: (entry) => void told.entries.push(entry), onRegistryChange: (change) => void told.registry.push(change), onClosing: (action) => void told.closings.push(action),
    ...options.change,
  });
  return Object.assign(invented, {
    server, base: `http://127.0.0.1:${server.port}`, records, readings, told, registered,
    async stop() {
      await server.stop();
      await records.close();
      await readings.close();
      await rm(folder, { recursive: true, force: true });
    },
  });
}
