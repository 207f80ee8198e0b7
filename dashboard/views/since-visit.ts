import type { GeneratorDetail, SecondLook } from '../../shared/api.ts';
import type { Entry } from '../../shared/entry.ts';
import type { BeforeAfter, Verification } from '../../shared/review.ts';

export type SinceVisit = NonNullable<GeneratorDetail['sinceVisit']>;

const NOTHING: BeforeAfter = { days: 0, dutyRatio: null, meanRunMin: null, meanRestMin: null, demand: null, delivery: null, unit: 'relative', elementDropKPa: null, nitrogen: null };

function finishedMs(entry: Entry): number {
  return Date.parse(entry.finishedAt ?? entry.startedAt);
}

/** The last finished service visit, no test and no plan. */
function lastVisit(visits: readonly Entry[], nowMs: number): Entry | undefined {
  return visits.filter((entry) => entry.kind === 'service' && finishedMs(entry) <= nowMs).sort((a, b) => finishedMs(b) - finishedMs(a))[0];
}

/**
 * Before and after the last finished visit, as analysis wrote it: the newest look that could tell, else the newest. Until the
 * first look is due there is not enough data yet. `null` without a finished visit.
 */
export function sinceVisit(visits: readonly Entry[], looks: readonly Verification[], nowMs: number): SinceVisit | null {
  const visit = lastVisit(visits, nowMs);
  if (visit === undefined) return null;
  const its = looks.filter((look) => look.visit === visit.id).sort((a, b) => b.atMs - a.atMs);
  const best = its.find((look) => look.verdict !== 'not enough data yet') ?? its[0];
  return { visit: visit.id, visitedAt: new Date(finishedMs(visit)).toISOString(), verdict: best?.verdict ?? 'not enough data yet', before: best?.before ?? NOTHING, after: best?.after ?? NOTHING };
}

/** Every look back at that visit, newest first. */
export function secondLooks(visits: readonly Entry[], looks: readonly Verification[], nowMs: number): SecondLook[] {
  const visit = lastVisit(visits, nowMs);
  return looks
    .filter((look) => look.visit === visit?.id)
    .sort((a, b) => b.atMs - a.atMs)
    .map(({ visit: id, visitedAtMs, look, atMs, verdict, says, recurrence }) => ({ visit: id, visitedAt: new Date(visitedAtMs).toISOString(), look, at: new Date(atMs).toISOString(), verdict, says, recurrence }));
}
