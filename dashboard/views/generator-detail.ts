import type { GeneratorDetail, LatestValue } from '../../shared/api.ts';
import type { DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import type { Finding, FindingAction, RankingRow } from '../../shared/finding.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { stateWithoutRow } from './overview-rows.ts';
import { sinceVisit } from './since-visit.ts';

/** Everything that the generator's page opens with. `findings` have people's actions laid over them; `days` in order of time. */
export function generatorDetail(params: {
  readonly registered: RegisteredGenerator;
  readonly row: RankingRow | null;
  readonly lastHeardMs: number | null;
  readonly latest: readonly LatestValue[];
  readonly findings: readonly Finding[];
  readonly actions: readonly FindingAction[];
  readonly visits: readonly Entry[];
  readonly days: readonly DayRow[];
  readonly cannotTell: readonly string[];
  readonly nowMs: number;
}): GeneratorDetail {
  const { registered, row, visits } = params;
  return {
    site: registered.site,
    generator: registered.generator,
    claimed: registered.claimed,
    row,
    dataState: row?.dataState ?? stateWithoutRow(registered, params.lastHeardMs !== null),
    lastHeardAt: params.lastHeardMs === null ? null : new Date(params.lastHeardMs).toISOString(),
    latest: params.latest,
    findings: [...params.findings].sort((a, b) => Date.parse(b.openedAt) - Date.parse(a.openedAt)),
    actions: params.actions,
    visits: [...visits].sort((a, b) => Date.parse(b.startedAt) - Date.parse(a.startedAt)),
    cannotTell: params.cannotTell,
    sinceVisit: sinceVisit(visits, params.days, params.nowMs),
  };
}
