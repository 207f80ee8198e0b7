import type { BandDay, OverviewRow } from '../../shared/api.ts';
import type { DataState, Finding, FindingAction, RankingRow } from '../../shared/finding.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { servedSince } from './being-checked.ts';
import { probabilityOf } from './cause-words.ts';

/** The open finding that leads a row: about the row's own cause if one is open, else the first open one. Shelved ones last. */
export function leadingFinding(row: Pick<RankingRow, 'cause' | 'findings'>, findings: ReadonlyMap<string, Finding>): Finding | undefined {
  const open = row.findings.map((id) => findings.get(id)).filter((one) => one !== undefined && one.state !== 'closed') as Finding[];
  const awake = open.filter((one) => one.shelvedUntil === null);
  return awake.find((one) => one.cause === row.cause) ?? awake[0] ?? open.find((one) => one.cause === row.cause) ?? open[0];
}

/** One row of the Overview. `findings` have people's actions laid over them. */
export function overviewRow(params: {
  readonly row: RankingRow;
  readonly registered: RegisteredGenerator;
  readonly findings: ReadonlyMap<string, Finding>;
  readonly lastHeardAt: string | null;
  readonly band: readonly BandDay[];
  /** What people did about a finding, oldest first. */
  readonly actionsOf?: (finding: string) => readonly FindingAction[];
  /** When the last service of this generator ended. */
  readonly servedAt?: string | null;
}): OverviewRow {
  const { row, registered, lastHeardAt, band } = params;
  const finding = leadingFinding(row, params.findings);
  return {
    ...row,
    siteName: registered.site.name ?? registered.site.id,
    generatorName: registered.generator.name ?? registered.generator.id,
    area: registered.site.area ?? null,
    timeZone: registered.site.timeZone,
    claimed: registered.claimed,
    lastHeardAt,
    lead: finding === undefined ? null : {
      finding: finding.id, cause: finding.cause, among: finding.among, probability: probabilityOf(finding),
      onsetLikelyAt: finding.onset.likely, openedAt: finding.openedAt, state: finding.state, shelvedUntil: finding.shelvedUntil, heldBy: heldBy(params.actionsOf?.(finding.id) ?? []), servedAt: servedSince(finding, params.servedAt ?? null),
    },
    band,
  };
}

/** Who has it: the last who acknowledged, planned or shelved it and didn't take that back. */
export function heldBy(actions: readonly FindingAction[]): string | null {
  return actions.filter((one) => one.action === 'acknowledge' || one.action === 'plan' || one.action === 'shelve').at(-1)?.by ?? null;
}

/**
 * The row of a generator that analysis has not written yet: registered and never heard, which the desk must see, or heard
 * for the first time since the last tick. It stands after all that are ranked.
 */
export function unrankedRow(registered: RegisteredGenerator, heard: boolean, rank: number): RankingRow {
  const out = registered.generator.outOfService;
  const because = out ? 'out of service, as the registry says' : heard ? 'heard for the first time; analysis looks at it at the next tick' : 'nothing was ever heard from it';
  return {
    rank, site: registered.site.id, generator: registered.generator.id, dataState: stateWithoutRow(registered, heard),
    dutyRatio: null, baselineDutyRatio: null, demandChange: null, deliveryChange: null, cause: null, causes: [],
    serviceBy: null, forecasts: [], dueBy: null, because, findings: [],
  };
}

/** Before analysis has written a row: what is heard for the first time is being learned. */
export function stateWithoutRow(registered: RegisteredGenerator, heard: boolean): DataState {
  if (registered.generator.outOfService) return 'out-of-service';
  return heard ? 'learning' : 'not-reporting';
}
