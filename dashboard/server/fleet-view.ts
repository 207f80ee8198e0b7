import type { BandDay, OverviewRow, Page, ServiceListRow } from '../../shared/api.ts';
import type { Entry } from '../../shared/entry.ts';
import { type Finding, type FindingAction, type RankingReport, type RankingRow, withActions } from '../../shared/finding.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { addService, lastServices, type LastServices, SERVED_WITHIN_MS } from '../../shared/last-service.ts';
import { type RegisteredGenerator, unclaimedGenerator } from '../../shared/registry.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { calendarOf, type Clock } from '../../shared/time.ts';
import { overviewRow, unrankedRow } from '../views/overview-rows.ts';
import { restBand } from '../views/rest-band.ts';
import { serviceList, serviceListRow } from '../views/service-list.ts';
import { createBandCache } from './band-cache.ts';
import type { IngestSurface } from './ingest-surface.ts';
import { type StoredDocument, storedDocument } from './stored-document.ts';

export type RegistrySurface = { current(): readonly RegisteredGenerator[] };

type Sources = { readonly readings: ReadingStore; readonly records: RecordStore; readonly registry: RegistrySurface; readonly ingest: IngestSurface; readonly clock: Clock };

/** One tick of the fleet, as analysis wrote it, with what people did laid over. */
type Fleet = {
  readonly at: string | null;
  readonly rows: readonly RankingRow[];
  /** Of those, how many analysis ranked; the rest were not seen by analysis yet. */
  readonly ranked: number;
  readonly rowOf: ReadonlyMap<GeneratorKey, RankingRow>;
  readonly registered: ReadonlyMap<GeneratorKey, RegisteredGenerator>;
  readonly written: readonly Finding[];
  readonly lastHeardMs: ReadonlyMap<GeneratorKey, number>;
  readonly runHours: ReadonlyMap<GeneratorKey, number>;
  /** Of services that were recorded of late. */
  readonly served: LastServices;
};

/**
 * What lists of the whole fleet are made from. Read from the stores once a tick, serialised once (a page when it is first
 * asked for), kept until the next tick or a person's action. Nothing here is computed that analysis did not write.
 */
export type FleetView = ReturnType<typeof createFleetView>;

export function createFleetView(sources: Sources) {
  const { records, clock } = sources;
  const bands = createBandCache(records);
  const actions = new Map<string, FindingAction[]>();
  let actionsFromMs = 0;
  let fleet: Fleet | undefined;
  let loading: Promise<Fleet> | undefined;
  let findings: ReadonlyMap<string, Finding> = new Map();
  let documents = new Map<string, StoredDocument>();
  let rowTexts = new Map<RankingRow, string>();

  /** Read all anew; on failure what was known stays. */
  async function reload(): Promise<Fleet> {
    const report = (await records.report()) ?? { at: null, ranking: [], findings: [] };
    await readActions();
    await bands.refresh(report.ranking.map((row) => keyOf(row)));
    fleet = await readFleet(report, sources);
    forgetDocuments();
    return fleet;
  }

  async function readActions(): Promise<void> {
    // The same millisecond is read again, so that none at the edge is missed; doubles are known by their content.
    for (const action of await records.actions(actionsFromMs > 0 ? { fromMs: actionsFromMs } : {})) addAction(action);
  }

  function addAction(action: FindingAction): void {
    const known = actions.get(action.finding) ?? [];
    const text = JSON.stringify(action);
    if (known.some((one) => JSON.stringify(one) === text)) return;
    actions.set(action.finding, [...known, action].sort((a, b) => a.atMs - b.atMs));
    actionsFromMs = Math.max(actionsFromMs, action.atMs);
  }

  function forgetDocuments(): void {
    documents = new Map();
    rowTexts = new Map();
    findings = new Map((fleet?.written ?? []).map((finding) => [finding.id, laidOver(finding)]));
  }

  function laidOver(finding: Finding): Finding {
    return withActions(finding, actions.get(finding.id) ?? [], clock.nowMs(), fleet?.served.get(keyOf(finding))?.recordedMs);
  }

  async function current(): Promise<Fleet> {
    if (fleet !== undefined) return fleet;
    loading ??= reload().finally(() => {
      loading = undefined;
    });
    return await loading;
  }

  function once(name: string, make: () => string): StoredDocument {
    let document = documents.get(name);
    if (document === undefined) {
      document = storedDocument(make());
      documents.set(name, document);
    }
    return document;
  }

  function rowOf(now: Fleet, row: RankingRow): OverviewRow {
    const key = keyOf(row);
    const registered = now.registered.get(key) ?? unclaimedGenerator(key);
    const heardMs = lastHeard(key, now);
    return overviewRow({ row, registered, findings, lastHeardAt: heardMs === null ? null : new Date(heardMs).toISOString(), band: bandOf(key, registered, now), actionsOf: (id) => actions.get(id) ?? [], servedAt: now.served.get(key)?.endedAt ?? null });
  }

  function bandOf(key: GeneratorKey, registered: RegisteredGenerator, now: Fleet): BandDay[] {
    const todayMs = now.at === null ? clock.nowMs() : Date.parse(now.at);
    return restBand(bands.of(key), dayIn(registered.site.timeZone, todayMs));
  }

  function lastHeard(key: GeneratorKey, now: Fleet): number | null {
    const ms = Math.max(sources.ingest.heard(key)?.lastHeardMs ?? 0, now.lastHeardMs.get(key) ?? 0);
    return ms > 0 ? ms : null;
  }

  function serviceRows(now: Fleet): ServiceListRow[] {
    const nowAt = now.at ?? new Date(clock.nowMs()).toISOString();
    return serviceList(now.rows.map((row) => {
      const key = keyOf(row);
      return serviceListRow({ row, registered: now.registered.get(key) ?? unclaimedGenerator(key), findings, runHours: now.runHours.get(key) ?? null, servedAt: now.served.get(key)?.endedAt ?? null, nowAt });
    }));
  }

  return {
    reload,
    /** A person acted: only what shows findings is made again. */
    acted(action: FindingAction): void {
      addAction(action);
      forgetDocuments();
    },
    /** A person entered something. */
    entered(entry: Entry): void {
      if (fleet === undefined) return;
      addService(fleet.served, entry, clock.nowMs());
      forgetDocuments();
    },
    laidOver,
    /** An open finding of the last tick, as people see it. */
    finding: (id: string): Finding | undefined => findings.get(id),
    readActions,
    /** What everybody did from a time on, in order of time. */
    actionsFrom: (fromMs: number): FindingAction[] => [...actions.values()].flat().filter((one) => one.atMs >= fromMs).sort((a, b) => a.atMs - b.atMs),
    actionsOf: (finding: string): readonly FindingAction[] => actions.get(finding) ?? [],
    reopened: (): string[] => [...actions].filter(([, list]) => list.some((one) => one.action === 'reopen')).map(([id]) => id),
    async at(): Promise<string | null> {
      return (await current()).at;
    },
    /** The contract's one object, findings as people see them. */
    async ranking(): Promise<StoredDocument> {
      const now = await current();
      return once('ranking', () => JSON.stringify({ at: now.at, ranking: now.rows.slice(0, now.ranked), findings: now.written.map((one) => findings.get(one.id) ?? one) } satisfies RankingReport));
    },
    async overview(from: number, limit: number): Promise<StoredDocument> {
      const now = await current();
      return once(`overview ${from} ${limit}`, () => {
        const texts = now.rows.slice(from, from + limit).map((row) => {
          const text = rowTexts.get(row) ?? JSON.stringify(rowOf(now, row));
          rowTexts.set(row, text);
          return text;
        });
        const next = from + limit < now.rows.length ? JSON.stringify(String(from + limit)) : 'null';
        return `{"items":[${texts.join(',')}],"next":${next}}`;
      });
    },
    async serviceList(from: number, limit: number): Promise<StoredDocument> {
      const now = await current();
      return once(`service-list ${from} ${limit}`, () => {
        const rows = serviceRows(now);
        return JSON.stringify({ items: rows.slice(from, from + limit), next: from + limit < rows.length ? String(from + limit) : null } satisfies Page<ServiceListRow>);
      });
    },
    async serviceRows(): Promise<ServiceListRow[]> {
      return serviceRows(await current());
    },
    /** Every generator that is registered or was ever heard. */
    async generators(): Promise<readonly { readonly registered: RegisteredGenerator; readonly row: RankingRow | null; readonly lastHeardMs: number | null; readonly servedAt: string | null }[]> {
      const now = await current();
      return [...now.registered.values()].map((registered) => ({ registered, row: now.rowOf.get(registered.key) ?? null, lastHeardMs: lastHeard(registered.key, now), servedAt: now.served.get(registered.key)?.endedAt ?? null }));
    },
    /** One generator; `undefined` if it is neither registered nor was ever heard. */
    async generator(key: GeneratorKey) {
      const now = await current();
      const latest = now.registered.has(key) ? [] : await sources.readings.latest([key]);
      const registered = now.registered.get(key) ?? sources.registry.current().find((one) => one.key === key) ?? (latest.length > 0 || sources.ingest.heard(key) !== undefined ? unclaimedGenerator(key) : undefined);
      return registered === undefined ? undefined : { registered, row: now.rowOf.get(key) ?? null, lastHeardMs: lastHeard(key, now) };
    },
  };
}

async function readFleet(report: RankingReport, { readings, records, registry, clock }: Sources): Promise<Fleet> {
  const registered = new Map(registry.current().map((one) => [one.key, one]));
  const lastHeardMs = new Map<GeneratorKey, number>();
  const runHours = new Map<GeneratorKey, number>();
  for (const one of await readings.latest()) {
    lastHeardMs.set(one.generator, Math.max(one.receivedMs, lastHeardMs.get(one.generator) ?? 0));
    if (one.channel === 'run-time') runHours.set(one.generator, Math.round(one.value / 360) / 10);
  }
  const served = lastServices(await records.entries({ recordedFromMs: clock.nowMs() - SERVED_WITHIN_MS }), clock.nowMs());
  const rowOf = new Map(report.ranking.map((row) => [keyOf(row), row]));
  for (const key of [...rowOf.keys(), ...lastHeardMs.keys()]) if (!registered.has(key)) registered.set(key, unclaimedGenerator(key));
  const unranked = [...registered.values()].filter((one) => !rowOf.has(one.key)).map((one, index) => unrankedRow(one, lastHeardMs.has(one.key), report.ranking.length + index + 1));
  return { at: report.at, rows: [...report.ranking, ...unranked], ranked: report.ranking.length, rowOf, registered, written: report.findings, lastHeardMs, runHours, served };
}

function keyOf(row: { readonly site: string; readonly generator: string }): GeneratorKey {
  return `${row.site}/${row.generator}` as GeneratorKey;
}

const calendars = new Map<string, ReturnType<typeof calendarOf>>();

function dayIn(timeZone: string, ms: number): string {
  let calendar = calendars.get(timeZone);
  if (calendar === undefined) {
    calendar = calendarOf(timeZone);
    calendars.set(timeZone, calendar);
  }
  return calendar(ms).day;
}
