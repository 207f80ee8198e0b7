import type { GeneratorDetail, LatestValue } from '../../shared/api.ts';
import type { Entry } from '../../shared/entry.ts';
import type { Finding, FindingAction, RankingRow } from '../../shared/finding.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import type { GeneratorReview, Verification } from '../../shared/review.ts';
import { stateWithoutRow } from './overview-rows.ts';
import { secondLooks, sinceVisit } from './since-visit.ts';

/** Everything that the generator's page opens with. `findings` have people's actions laid over them. */
export function generatorDetail(params: {
  readonly registered: RegisteredGenerator;
  readonly row: RankingRow | null;
  readonly lastHeardMs: number | null;
  readonly latest: readonly LatestValue[];
  readonly findings: readonly Finding[];
  readonly actions: readonly FindingAction[];
  readonly visits: readonly Entry[];
  readonly review: GeneratorReview | undefined;
  readonly looks: readonly Verification[];
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
    sinceVisit: sinceVisit(visits, params.looks, params.nowMs),
    secondLooks: secondLooks(visits, params.looks, params.nowMs),
    urgency: params.review?.urgency ?? null,
    canShow: params.review?.canShow ?? null,
    leakTerms: params.review?.leakTerms ?? null,
  };
}
