/** Every cause that Lull names, by family (design, section 2). */
export const CAUSE_FAMILIES = {
  demand: ['leak', 'bleed-left-open', 'supply-bypassed', 'valve-left-shut', 'check-valve-leaking'],
  delivery: ['element-loading', 'element-missing', 'drain-stuck-open', 'drain-stuck-closed', 'compressor-side', 'membrane-decline'],
  running: ['not-starting', 'stops-short', 'runs-without-end'],
  data: ['sensor-fault', 'set-point-changed', 'no-power', 'data-gap'],
  unknown: ['undetermined'],
} as const;
export type CauseFamily = keyof typeof CAUSE_FAMILIES;
export type Cause = (typeof CAUSE_FAMILIES)[CauseFamily][number];
export const CAUSES: readonly Cause[] = Object.values(CAUSE_FAMILIES).flat();

export function familyOf(cause: Cause): CauseFamily {
  return (Object.keys(CAUSE_FAMILIES) as CauseFamily[]).find((family) => (CAUSE_FAMILIES[family] as readonly Cause[]).includes(cause)) ?? 'unknown';
}

export const FINDING_STATES = ['new', 'acknowledged', 'planned', 'verifying', 'closed'] as const;
export type FindingState = (typeof FINDING_STATES)[number];
export const CLOSING_REASONS = ['improved', 'not-confirmed', 'false', 'superseded'] as const;
export type ClosingReason = (typeof CLOSING_REASONS)[number];

/** Data state of a generator; the later in this list wins. */
export const DATA_STATES = ['reporting', 'learning', 'partly-reporting', 'not-reporting', 'no-power', 'under-test', 'out-of-service'] as const;
export type DataState = (typeof DATA_STATES)[number];

export type CauseProbability = { readonly cause: Cause; readonly probability: number };
/** One sentence for or against a cause; `weight` is a log likelihood ratio, below 0 it speaks against. */
export type Evidence = { readonly says: string; readonly for: Cause; readonly weight: number };
/** A range of times: 10, 50 and 90 %. `null` = beyond the horizon. */
export type TimeRange = { readonly earliest: string | null; readonly likely: string | null; readonly latest: string | null };

/** A state that analysis detected, with its likely cause; the shape of `findings --json` (design, section 5). Times are ISO 8601 UTC. */
export type Finding = {
  readonly id: string;
  readonly site: string;
  readonly generator: string;
  /** The tick at which an observer with only what had been received could have known. */
  readonly openedAt: string;
  readonly onset: TimeRange;
  readonly cause: Cause;
  /** About the main cause; sums to 1, most likely first. */
  readonly causes: readonly CauseProbability[];
  /** With `undetermined`: the causes that the channels sent can't tell apart. */
  readonly among: readonly Cause[] | null;
  /** Channels that would tell them apart. */
  readonly missingChannels: readonly string[];
  /** Ids of findings about a second cause at the same time. */
  readonly alongside: readonly string[];
  /** What was said when; `among` where that was a group. */
  readonly history: readonly { readonly at: string; readonly cause: Cause; readonly probability: number; readonly among?: readonly Cause[] }[];
  readonly evidence: readonly Evidence[];
  /** Hash of the analysis settings that it was found with. */
  readonly settings: string;
  readonly state: FindingState;
  readonly shelvedUntil: string | null;
  readonly closedAt: string | null;
  readonly closedReason: ClosingReason | null;
};

export const LIMIT_NAMES = ['dutyRatio', 'elementDropKPa', 'nitrogen', 'deliveryShare'] as const;
export type LimitName = (typeof LIMIT_NAMES)[number];

/** When a limit will be crossed: 10, 25, 50, 75, 90 %; `null` = beyond the horizon. */
export type Forecast = { readonly limit: LimitName; readonly earliest: string | null; readonly quarterFrom: string | null; readonly likely: string | null; readonly quarterTo: string | null; readonly latest: string | null };

/** One row of the ranking (design, section 5). Changes are after/before − 1. */
export type RankingRow = {
  readonly rank: number;
  readonly site: string;
  readonly generator: string;
  readonly dataState: DataState;
  /** Over the last 7 days. */
  readonly dutyRatio: number | null;
  readonly baselineDutyRatio: number | null;
  readonly demandChange: number | null;
  readonly deliveryChange: number | null;
  readonly cause: Cause | null;
  readonly causes: readonly CauseProbability[];
  /** From condition only: the earliest of `forecasts`; `null` = no end in sight. */
  readonly serviceBy: (TimeRange & { readonly limit: LimitName }) | null;
  readonly forecasts: readonly Forecast[];
  /** From `serviceEvery`: days since, or running hours at the present rate, whichever is first. */
  readonly dueBy: string | null;
  /** One line that explains the rank. */
  readonly because: string;
  /** Ids of the open findings. */
  readonly findings: readonly string[];
};

/** The one object of `rank --json`, `findings --json`, `replay --json` and `GET /api/v1/ranking`. `at` = the last tick. */
export type RankingReport = { readonly at: string | null; readonly ranking: readonly RankingRow[]; readonly findings: readonly Finding[] };

/** What a person did about a finding. A closing is an event of the fold; the others are shown, not analysed. */
export type FindingAction = {
  readonly finding: string;
  readonly atMs: number;
  readonly by: string;
  readonly action: 'acknowledge' | 'shelve' | 'unshelve' | 'plan' | 'unplan' | 'close' | 'reopen' | 'note';
  /** With `shelve`: until when. Shelving always ends. */
  readonly untilMs?: number;
  /** With `plan` and `unplan`: the visit that names the finding. */
  readonly visit?: string;
  /** With `close`. */
  readonly reason?: ClosingReason;
  readonly note?: string;
};

/**
 * A finding as people see it: what analysis wrote, with what people did laid over it.
 * Actions in order of time; those before `openedAt` can't exist and are not looked for. `servedMs`: when a service of the generator
 * was last recorded; a plan from before it has been carried out.
 */
export function withActions(finding: Finding, actions: readonly FindingAction[], nowMs: number, servedMs = 0): Finding {
  let { state, shelvedUntil, closedAt, closedReason } = finding;
  for (const action of actions) {
    if (action.action === 'acknowledge' && state === 'new') state = 'acknowledged';
    // Work that is being checked stays so: the plan that led to it is older, and another visit doesn't undo it.
    else if (action.action === 'plan' && state !== 'closed' && state !== 'verifying') state = action.atMs > servedMs ? 'planned' : 'acknowledged';
    else if (action.action === 'unplan' && state === 'planned') state = 'acknowledged';
    else if (action.action === 'shelve' && action.untilMs !== undefined) shelvedUntil = new Date(action.untilMs).toISOString();
    else if (action.action === 'unshelve') shelvedUntil = null;
    else if (action.action === 'close') {
      // A second closing corrects the reason of the first; since when it is closed stays.
      if (state !== 'closed' || closedAt === null) closedAt = new Date(action.atMs).toISOString();
      state = 'closed';
      closedReason = action.reason ?? 'not-confirmed';
    } else if (action.action === 'reopen' && state === 'closed') {
      state = 'new';
      closedAt = null;
      closedReason = null;
    }
  }
  if (shelvedUntil !== null && Date.parse(shelvedUntil) <= nowMs) shelvedUntil = null;
  return { ...finding, state, shelvedUntil, closedAt, closedReason };
}

/** Whether a finding says no more than that nothing is heard. */
export function isSilence({ cause, among }: Pick<Finding, 'cause' | 'among'>): boolean {
  return cause === 'data-gap' || (among?.includes('data-gap') ?? false);
}
