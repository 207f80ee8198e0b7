import type { ServiceListRow } from '../../shared/api.ts';
import type { Finding, RankingRow } from '../../shared/finding.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { causeInWords, leakSide, mustGoAtOnce, probabilityOf, whatToBring, whoMustGo } from './cause-words.ts';
import { isBeingChecked, servedSince } from './being-checked.ts';
import { leadingFinding } from './overview-rows.ts';

/** When the 10 % date is nearer than this, it is the date: there is no time for a second look. Our choice. */
const URGENT_MS = 7 * 86_400_000;

export type WaitUntil = Pick<ServiceListRow, 'byAt' | 'byBecause' | 'byQuantile'>;

/**
 * "Can wait until": the earlier of the condition's date and the service due.
 *
 * The condition's date is `serviceBy.likely` (the 50 % date: half of such generators are past their limit then). Where the
 * 10 % date `earliest` is within 7 days of `nowAt`, that one is used. A cause that waits for nothing has the date `nowAt`; hand in
 * none once its work is done.
 */
export function canWaitUntil(row: Pick<RankingRow, 'serviceBy' | 'dueBy' | 'cause'> & Partial<Pick<RankingRow, 'causes'>>, nowAt: string): WaitUntil {
  if (mustGoAtOnce(row.cause, row.causes)) return { byAt: nowAt, byBecause: 'condition', byQuantile: null };
  const nowMs = Date.parse(nowAt);
  const { earliest = null, likely = null } = row.serviceBy ?? {};
  const urgent = earliest !== null && Date.parse(earliest) - nowMs <= URGENT_MS;
  const conditionAt = urgent ? earliest : likely;
  if (conditionAt === null && row.dueBy === null) return { byAt: null, byBecause: null, byQuantile: null };
  if (conditionAt !== null && (row.dueBy === null || Date.parse(conditionAt) <= Date.parse(row.dueBy))) return { byAt: conditionAt, byBecause: 'condition', byQuantile: urgent ? 0.1 : 0.5 };
  return { byAt: row.dueBy, byBecause: 'due', byQuantile: null };
}

/** One line of the service list. */
export function serviceListRow(params: {
  readonly row: RankingRow;
  readonly registered: RegisteredGenerator;
  readonly findings: ReadonlyMap<string, Finding>;
  /** Hour meter, h; `null` where none is sent. */
  readonly runHours: number | null;
  /** When the last service of this generator ended. */
  readonly servedAt: string | null;
  readonly nowAt: string;
}): ServiceListRow {
  const { row, registered } = params;
  const finding = leadingFinding(row, params.findings);
  const cause = finding?.cause ?? null;
  const side = leakSide(finding?.evidence ?? []);
  return {
    site: row.site,
    siteName: registered.site.name ?? registered.site.id,
    area: registered.site.area ?? null,
    timeZone: registered.site.timeZone,
    access: registered.site.access ?? null,
    generator: row.generator,
    generatorName: registered.generator.name ?? registered.generator.id,
    cause,
    causeSays: cause === null ? (row.dueBy === null ? 'no finding' : Date.parse(row.dueBy) <= Date.parse(params.nowAt) ? 'service is due' : 'next service') : causeInWords(cause, finding?.among, side),
    probability: finding === undefined ? null : probabilityOf(finding),
    state: finding?.state ?? null,
    servedAt: finding === undefined ? null : servedSince(finding, params.servedAt),
    ...canWaitUntil({ ...row, cause: finding !== undefined && isBeingChecked(finding) ? null : cause }, params.nowAt),
    limit: row.serviceBy?.limit ?? null,
    dueAt: row.dueBy,
    runHours: params.runHours,
    whoMustGo: whoMustGo(cause, side, finding?.among),
    bring: whatToBring(cause, finding?.causes, finding?.among, side),
    because: row.because,
  };
}

/** Rows that someone should go for, by date (no date last, among equals in order of rank); a generator with neither date nor finding is left out. */
export function serviceList(rows: readonly ServiceListRow[]): ServiceListRow[] {
  const wanted = rows.filter((row) => row.byAt !== null || row.cause !== null);
  const dateMs = (row: ServiceListRow): number => (row.byAt === null ? Number.POSITIVE_INFINITY : Date.parse(row.byAt));
  return wanted.map((row, index) => ({ row, index, atMs: dateMs(row) })).sort((a, b) => (a.atMs === b.atMs ? a.index - b.index : a.atMs - b.atMs)).map((one) => one.row);
}
