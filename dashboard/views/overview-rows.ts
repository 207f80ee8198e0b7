import type { BandDay, OverviewRow } from '../../shared/api.ts';
import type { Finding, RankingRow } from '../../shared/finding.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
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
}): OverviewRow {
  const { row, registered, lastHeardAt, band } = params;
  const finding = leadingFinding(row, params.findings);
  return {
    ...row,
    siteName: registered.site.name ?? registered.site.id,
    generatorName: registered.generator.name ?? registered.generator.id,
    area: registered.site.area ?? null,
    claimed: registered.claimed,
    lastHeardAt,
    lead: finding === undefined ? null : {
      finding: finding.id, cause: finding.cause, among: finding.among, probability: probabilityOf(finding),
      onsetLikelyAt: finding.onset.likely, openedAt: finding.openedAt, state: finding.state, shelvedUntil: finding.shelvedUntil,
    },
    band,
  };
}

/**
 * The row of a registered generator that analysis has not seen yet: nothing was heard from it, and that is what the desk
 * must see. It stands after all that are ranked.
 */
export function unheardRow(registered: RegisteredGenerator, rank: number): RankingRow {
  const out = registered.generator.outOfService;
  return {
    rank, site: registered.site.id, generator: registered.generator.id, dataState: out ? 'out-of-service' : 'not-reporting',
    dutyRatio: null, baselineDutyRatio: null, demandChange: null, deliveryChange: null, cause: null, causes: [],
    serviceBy: null, forecasts: [], dueBy: null, because: out ? 'out of service, as the registry says' : 'nothing was ever heard from it', findings: [],
  };
}
