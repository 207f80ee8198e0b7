import type { Channel } from './channels.ts';
import type { Entry } from './entry.ts';
import type { Cause, DataState, Finding, FindingAction, LimitName, RankingRow } from './finding.ts';
import type { LeavingCheck } from './leaving-check.ts';
import type { QuarantineItem, QuarantineReason } from './quarantine.ts';
import type { GeneratorRecord, SiteRecord } from './registry.ts';
import type { BeforeAfter, CanShow, LeakTerms, Urgency, Verdict, Verification } from './review.ts';

/*
 * What the server and the pages say to each other beyond the contract's own shapes, under /api/v1.
 * Times are ISO 8601 UTC; names of times end in `At`; units stand last in a field's name. Errors are
 * RFC 9457 problems. Lists take `?limit=200&after=` and answer `{ items, next }`; `next` goes into `after`, null at the end.
 */

export type Page<T> = { readonly items: readonly T[]; readonly next: string | null };
export type ProblemDetails = { readonly type: string; readonly title: string; readonly status: number; readonly detail: string };

/** One line that watches the watcher: GET /api/v1/status, and the event `status`. */
export type Status = {
  readonly nowAt: string;
  /** Set when the readings are simulated; the page says so. `timeScale` seconds pass in one. */
  readonly simulated: boolean;
  readonly timeScale: number;
  readonly version: string;
  readonly lastTickAt: string | null;
  readonly lastReadingAt: string | null;
  readonly generators: number;
  readonly generatorsReporting: number;
  readonly brokerConnected: boolean;
  readonly brokerSays: string;
  readonly storeWritable: boolean;
  /** Why the store takes nothing, in its own words; empty or left out while it does. */
  readonly storeSays?: string | undefined;
  /** Packets that arrived and aren't committed yet. */
  readonly queueLength: number;
  /** Readings committed in the last minute. */
  readonly readingsPerMinute: number;
  readonly quarantined: number;
  readonly diskFreeBytes: number | null;
  readonly storeBytes: number;
  /** What of the above wants a person, in words; empty when all is well. */
  readonly wants: readonly string[];
};

/** One column of the rest band: mean run and mean rest of the cycles of a day, s; null = no data. */
export type BandDay = { readonly day: string; readonly runS: number; readonly restS: number } | { readonly day: string; readonly runS: null; readonly restS: null };

/** A row of the Overview: GET /api/v1/overview → Page<OverviewRow>, in order of rank; serialised once a tick. */
export type OverviewRow = RankingRow & {
  readonly siteName: string;
  readonly generatorName: string;
  readonly area: string | null;
  readonly timeZone: string;
  readonly claimed: boolean;
  readonly lastHeardAt: string | null;
  /** The open finding that leads the row: its id, since when, how sure, state. */
  readonly lead: { readonly finding: string; readonly cause: Cause; readonly among: readonly Cause[] | null; readonly probability: number; readonly onsetLikelyAt: string | null; readonly openedAt: string; readonly state: Finding['state']; readonly shelvedUntil: string | null; /** Who last acknowledged, planned or shelved it. */ readonly heldBy?: string | null; /** When the last service since it was found ended. */ readonly servedAt?: string | null } | null;
  /** The last 42 days, oldest first. */
  readonly band: readonly BandDay[];
};

/** The newest value of a channel: value, unit and age are always shown together. */
export type LatestValue = { readonly channel: Channel; readonly label: string; readonly value: number; readonly unit: string; readonly at: string; readonly fresh: boolean; /** How old it may be and still count as present, s. */ readonly holdsS: number };

/** GET /api/v1/generators/:site/:generator */
export type GeneratorDetail = {
  readonly site: SiteRecord;
  readonly generator: GeneratorRecord;
  readonly claimed: boolean;
  readonly row: RankingRow | null;
  readonly dataState: DataState;
  readonly lastHeardAt: string | null;
  readonly latest: readonly LatestValue[];
  /** Open and closed, newest first, people's actions laid over; and those actions. */
  readonly findings: readonly Finding[];
  readonly actions: readonly FindingAction[];
  readonly visits: readonly Entry[];
  /** What this set of channels can't tell, in sentences. */
  readonly cannotTell: readonly string[];
  /** Before and after the last finished visit, from the newest look back at it that could tell; demand and delivery in the unit given. */
  readonly sinceVisit: { readonly visit: string; readonly visitedAt: string; readonly verdict: 'improved' | 'not improved' | 'worse' | 'not enough data yet'; readonly before: BeforeAfter; readonly after: BeforeAfter } | null;
  /** What analysis wrote beside findings and rank; null until it has. */
  readonly urgency?: Urgency | null;
  readonly canShow?: CanShow | null;
  readonly leakTerms?: LeakTerms | null;
  /** The looks back at the last finished visit, 4 h, 24 h and by days; empty until one was due. */
  readonly secondLooks?: readonly SecondLook[];
};
export type SecondLook = { readonly visit: string; readonly visitedAt: string; readonly look: Verification['look']; readonly at: string; readonly verdict: Verdict; readonly says: readonly string[]; readonly recurrence: readonly [earlier: string, again: string] | null };
export type { BeforeAfter };

/** GET /api/v1/days?site=&generator=&from=&to= → Page<DayRow>. GET /api/v1/cycles (same query) → Page<Cycle>. */

/** GET /api/v1/readings?site=&generator=&channel=&from=&to=&buckets=500. Gaps are left out, never filled. */
export type ReadingsAnswer = { readonly site: string; readonly generator: string; readonly channel: Channel; readonly unit: string; readonly label: string; readonly fromAt: string; readonly toAt: string; readonly bucketMs: number; readonly points: readonly (readonly [atMs: number, min: number, mean: number, max: number])[] };

/**
 * POST /api/v1/checks { site, generator } → 202 CheckAnswer: the analysis is asked to hold the last half hour against what is
 * normal, before somebody leaves. GET /api/v1/checks/:id → CheckAnswer: ask again every second or two until `answeredAt` is set.
 */
export type CheckAnswer = {
  readonly id: string;
  readonly site: string;
  readonly generator: string;
  readonly askedAt: string;
  /** Null while it waits. */
  readonly answeredAt: string | null;
  readonly check: LeavingCheck | null;
  /** Why there is no check, for people. */
  readonly problem: string | null;
};

/** GET /api/v1/visits?site=&generator= → Page<Entry>; POST /api/v1/visits with an entry (id optional) and `by`. */
export type VisitPosted = { readonly entry: Entry };

/** POST /api/v1/findings/:id/{acknowledge,shelve,unshelve,close,reopen,note} with this body → Finding. */
export type ActionBody = { readonly by: string; readonly note?: string; readonly untilAt?: string; readonly reason?: 'improved' | 'not-confirmed' | 'false' };

/** GET /api/v1/service-list, and `.csv`: by when, site, cause, who must go, what to bring. */
export type ServiceListRow = {
  readonly site: string;
  readonly siteName: string;
  readonly area: string | null;
  readonly timeZone: string;
  readonly access: string | null;
  readonly generator: string;
  readonly generatorName: string;
  readonly cause: Cause | null;
  readonly causeSays: string;
  readonly probability: number | null;
  /** Of the finding; `verifying`: the work is done, and nobody need go at once whatever the cause. */
  readonly state: Finding['state'] | null;
  /** When the last service since it was found ended. */
  readonly servedAt: string | null;
  /** "Can wait until": the earlier of condition and service due; null = no end in sight. */
  readonly byAt: string | null;
  readonly byBecause: 'condition' | 'due' | null;
  /** Which date of the forecast `byAt` is: 0.1 when it is near, else 0.5; null when it is none, or when the cause waits for nothing. */
  readonly byQuantile?: 0.1 | 0.5 | null;
  readonly limit: LimitName | null;
  readonly dueAt: string | null;
  readonly runHours: number | null;
  readonly whoMustGo: string;
  readonly bring: readonly string[];
  readonly because: string;
};

/** GET /api/v1/gateways → Page<GatewayRow>; the page is called Gateways. */
export type GatewayRow = {
  readonly site: string;
  readonly siteName: string;
  readonly gateway: string | null;
  readonly online: boolean | null;
  readonly changedAt: string | null;
  readonly generators: readonly {
    readonly generator: string;
    readonly generatorName: string;
    readonly claimed: boolean;
    readonly lastHeardAt: string | null;
    readonly reportEveryS: number | null;
    readonly silent: boolean;
    readonly channels: readonly (LatestValue & { readonly sentUnit: string | null; readonly plausible: boolean; readonly plausibleSays: string })[];
    readonly refused: readonly { readonly reason: QuarantineReason; readonly count: number; readonly lastAt: string }[];
  }[];
};
/** GET /api/v1/packets?site=&generator= → Page<Packet>: the last packets of a generator, newest first; at most 20 are remembered. */
export type Packet = { readonly at: string; readonly topic: string; readonly payload: string; readonly readings: number; readonly refused: readonly { readonly reason: QuarantineReason; readonly says: string }[] };

/** GET /api/v1/quarantine?reason=&generator= → Page<QuarantineItem>; POST /api/v1/quarantine/release { ids, by } → ReleaseAnswer. */
export type ReleaseAnswer = { readonly released: number; readonly stillRefused: number };
export type { QuarantineItem };

/** Server-sent events at GET /api/v1/live: `status` (Status, every 2 s), `tick` ({ at }: ranking and findings changed), `reading` (LiveReading[] of ?site=&generator=, as they are committed). */
export type LiveReading = { readonly channel: Channel; readonly at: string; readonly value: number };

/** A line of the hand-over note: where, what, since when, by whom. */
export type HandOverLine = { readonly site: string; readonly siteName: string; readonly generator: string; readonly generatorName: string; readonly finding: string | null; readonly says: string; readonly at: string | null; readonly by: string | null; readonly note: string | null };
/** What somebody told the next shift in their own words, kept for good with the count of that moment: GET /api/v1/hand-over/notes → Page<HandOverNote>, newest first; POST with words, hours and `by`. */
export type HandOverNote = { readonly id: string; readonly at: string; readonly by: string; readonly words: string; /** The shift that it is about. */ readonly fromAt: string; readonly generators: number; readonly reporting: number };

/** GET /api/v1/hand-over?hours= : what the next shift must know. */
export type HandOver = {
  readonly fromAt: string;
  readonly toAt: string;
  readonly generators: number;
  readonly reporting: number;
  readonly fresh: readonly HandOverLine[];
  readonly changed: readonly HandOverLine[];
  readonly waiting: readonly HandOverLine[];
  readonly shelved: readonly HandOverLine[];
  /** The work is done, and analysis looks whether it helped. */
  readonly checked: readonly HandOverLine[];
  readonly silent: readonly HandOverLine[];
  readonly visits: readonly HandOverLine[];
};
