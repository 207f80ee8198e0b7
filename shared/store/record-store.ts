import type { Cycle, DayRow } from '../cycle.ts';
import type { Entry } from '../entry.ts';
import type { Finding, FindingAction, RankingReport } from '../finding.ts';
import type { GeneratorKey } from '../ids.ts';
import type { IssuedRecord, RecordDocument, VisitPhoto, VisitPhotoRow } from '../issued-record.ts';
import type { Job, JobAnswer } from '../job.ts';
import type { PresenceEvent } from '../log-event.ts';
import type { Notice, NoticeSeen } from '../notice.ts';
import type { QuarantineItem, QuarantineReason } from '../quarantine.ts';
import type { RegistryChange } from '../registry.ts';
import type { GeneratorReview, Verification } from '../review.ts';
import type { Visit, VisitState } from '../visit.ts';

/** State of the fold at the end of a day, from which late readings are folded again; 35 are kept for each generator. */
export type Checkpoint = { readonly generator: GeneratorKey; readonly frontierMs: number; readonly tickMs: number; readonly state: string };

/** State of the fold at its last save, from which a restart goes on. `tickMs`: everything received before it is in it. */
export type HotState = { readonly generator: GeneratorKey; readonly tickMs: number; readonly state: string };

/** What analysis writes at the end of a tick; kept in one transaction. */
export type AnalysisResult = {
  readonly tickMs: number;
  /** Days and cycles from here on (device time) replace what is stored of that generator; checkpoints after it are dropped, as they were folded without what made this necessary. */
  readonly replaced: readonly { readonly generator: GeneratorKey; readonly fromMs: number }[];
  readonly days: readonly DayRow[];
  readonly cycles: readonly Cycle[];
  readonly findings: readonly Finding[];
  readonly checkpoints: readonly Checkpoint[];
  readonly hotStates: readonly HotState[];
  /** Left out when nothing in it changed. */
  readonly report?: RankingReport;
  /** Replace what is kept of the same generator. */
  readonly reviews?: readonly GeneratorReview[];
  /** Replace what is kept of the same generator, visit and look. */
  readonly verifications?: readonly Verification[];
};

export type QuarantineQuery = { readonly reason?: QuarantineReason; readonly generator?: string; readonly released?: boolean; readonly afterId?: number; readonly limit?: number };

/** Which visits are asked for; days are those of the sites' calendars, both included. Without a day: also those that have none. */
export type VisitQuery = { readonly site?: string; readonly states?: readonly VisitState[]; readonly technician?: string; readonly fromDay?: string; readonly toDay?: string };
/** A save is refused when another came between: `stale` holds the visit as it is now. */
export type VisitSaved = { readonly saved: Visit } | { readonly stale: Visit | undefined };

export type RecordQuery = { readonly site?: string; readonly generator?: string; readonly subject?: string; readonly number?: number; readonly limit?: number };

/** What a generator is now, beside its findings: written by analysis for the pages. */
export type AuditLine = { readonly atMs: number; readonly by: string; readonly did: string; readonly about: string };

/**
 * Where everything but raw readings is kept: registry, entries, findings, days, cycles, the fold's states,
 * dirty marks, quarantine, presence, audit. Each method is one transaction and rejects with a `StoreError` when the store is down.
 * Two connections to one file may be open (the server's and the analysis worker's).
 */
export type RecordStore = {
  registryChanges(sinceRecordedMs?: number): Promise<readonly RegistryChange[]>;
  recordRegistryChange(change: RegistryChange): Promise<void>;

  /** Kept as a new revision if the id is known. In order of `recordedAt`, then id; the newest revision of each. */
  saveEntry(entry: Entry, by: string): Promise<void>;
  entries(query?: { readonly generator?: GeneratorKey; readonly recordedFromMs?: number }): Promise<readonly Entry[]>;

  /**
   * Keep a visit as its next revision. `visit.revision` must be that of the newest kept (0 for a new one); what is kept has one
   * more. The same save sent again changes nothing and gives what was kept the first time.
   */
  saveVisit(visit: Visit): Promise<VisitSaved>;
  /** The newest revision of each, in order of day (those without one last), time of day, id. */
  visits(query?: VisitQuery): Promise<readonly Visit[]>;
  visit(id: string): Promise<Visit | undefined>;
  /** Every revision of one visit, oldest first. */
  visitRevisions(id: string): Promise<readonly Visit[]>;

  /** A photo whose id is known for that visit is kept as it was first. */
  savePhoto(photo: VisitPhoto): Promise<void>;
  /** In order of time, then id. */
  photos(visit: string): Promise<readonly VisitPhotoRow[]>;
  photo(visit: string, id: string): Promise<VisitPhoto | undefined>;

  /** Keep a record for good. `false`, and nothing is kept, when that number and revision is taken. */
  issueRecord(record: IssuedRecord, document: RecordDocument): Promise<boolean>;
  /** Newest number first, its newest revision first. */
  records(query?: RecordQuery): Promise<readonly IssuedRecord[]>;
  recordDocument(number: number, revision: number): Promise<RecordDocument | undefined>;

  /** What analysis wrote, newest first. Without people's actions: see `withActions`. */
  findings(query?: { readonly generator?: GeneratorKey; readonly open?: boolean; readonly limit?: number }): Promise<readonly Finding[]>;
  finding(id: string): Promise<Finding | undefined>;
  recordAction(action: FindingAction): Promise<void>;
  /** In order of time. */
  actions(query?: { readonly finding?: string; readonly fromMs?: number }): Promise<readonly FindingAction[]>;

  saveAnalysis(result: AnalysisResult): Promise<void>;
  /** In order of time; spans [fromMs, toMs) by the start of the day or of the run. */
  days(query: { readonly generator: GeneratorKey; readonly fromMs?: number; readonly toMs?: number }): Promise<readonly DayRow[]>;
  /** The last `days` days of every generator in one query, for lists. */
  recentDays(days: number): Promise<readonly DayRow[]>;
  cycles(query: { readonly generator: GeneratorKey; readonly fromMs: number; readonly toMs: number; readonly limit?: number }): Promise<readonly Cycle[]>;
  report(): Promise<RankingReport | undefined>;
  /** The newest checkpoint whose frontier is before `deviceMs`. */
  checkpointBefore(generator: GeneratorKey, deviceMs: number): Promise<Checkpoint | undefined>;
  hotStates(): Promise<readonly HotState[]>;
  lastTickMs(): Promise<number>;
  review(generator: GeneratorKey): Promise<GeneratorReview | undefined>;
  /** In order of visit, then look. */
  verifications(generator: GeneratorKey): Promise<readonly Verification[]>;

  /** Leave a question for the analysis worker; posting an id again changes nothing. Jobs older than 7 days are forgotten. */
  postJob(job: Job): Promise<void>;
  /** Those without an answer, oldest first. */
  openJobs(): Promise<readonly Job[]>;
  /** The first answer stays; an unknown id is passed over. */
  answerJob(id: string, given: JobAnswer): Promise<void>;
  job(id: string): Promise<Job | undefined>;

  /** Readings of these generators received from `receivedMs` on may not be folded yet; the earliest mark stays. */
  markDirty(generators: readonly GeneratorKey[], receivedMs: number): Promise<void>;
  dirty(): Promise<readonly { readonly generator: GeneratorKey; readonly receivedMs: number }[]>;
  /** Everything received before `beforeMs` is folded and saved. */
  clearDirty(generators: readonly GeneratorKey[], beforeMs: number): Promise<void>;

  quarantine(items: readonly QuarantineItem[]): Promise<void>;
  quarantined(query?: QuarantineQuery): Promise<readonly QuarantineItem[]>;
  /** Not yet released, by generator (`''` where unknown) and reason. */
  quarantineCounts(): Promise<readonly { readonly generator: string; readonly reason: QuarantineReason; readonly count: number; readonly lastMs: number }[]>;
  markReleased(ids: readonly number[], atMs: number): Promise<void>;
  /** Drop what is older than 90 days, then the oldest until at most 1 GB of payload is left. Gives how many went. */
  trimQuarantine(nowMs: number): Promise<number>;

  savePresence(event: PresenceEvent): Promise<void>;
  /** The newest of each gateway. */
  presence(): Promise<readonly PresenceEvent[]>;
  /** Every one, in order, for export and restart. */
  presenceSince(fromMs: number): Promise<readonly PresenceEvent[]>;

  /** What was decided once about a series, such as `nitrogen` sent in per cent; kept as small JSON by name. */
  savedSettings(scope: string): Promise<ReadonlyMap<string, string>>;
  saveSetting(scope: string, name: string, value: string): Promise<void>;

  /** Keep notices (a known id is replaced) and what was looked at, together or not at all. */
  saveNotices(notices: readonly Notice[], seen?: readonly NoticeSeen[]): Promise<void>;
  /** Newest first; `waiting` alone gives those that are still to be sent, oldest first. */
  notices(query?: { readonly waiting?: true; readonly id?: string; readonly limit?: number }): Promise<readonly Notice[]>;
  /** What of each finding was looked at for notices. */
  noticesSeen(): Promise<ReadonlyMap<string, string>>;

  audit(line: AuditLine): Promise<void>;
  auditLines(limit?: number): Promise<readonly AuditLine[]>;
  sizeBytes(): Promise<number>;
  close(): Promise<void>;
};
