import { z } from 'zod';
import type { EntryKind } from './entry.ts';
import type { Cause, FindingState, Forecast, LimitName } from './finding.ts';
import type { Visit } from './visit.ts';

/** Who may be sent for what: the machine, the sprinkler piping (a licence), or sensors and gateways. */
export const TRADES = ['generator-technician', 'sprinkler-fitter', 'instrument-person'] as const;
export type Trade = (typeof TRADES)[number];

/** Someone who can be sent; known by name until there are accounts. Days are calendar days as at the office. */
export const technicianSchema = z.strictObject({
  name: z.string().trim().min(1).max(80),
  trades: z.array(z.enum(TRADES)).min(1).max(TRADES.length),
  /** Hours for visits and the way there, Monday first. */
  hoursByWeekday: z.array(z.number().min(0).max(24)).length(7),
  /** Days off, both ends included. */
  away: z.array(z.strictObject({ from: z.iso.date(), to: z.iso.date() })).max(50).default([]),
  /** Kept in the list of visits but no longer planned with. */
  left: z.boolean().default(false),
});
export type Technician = z.infer<typeof technicianSchema>;

/** The way as plans count it, h: into an area, and from one site to the next in it. */
export const wayHoursSchema = z.strictObject({ areaHours: z.number().min(0).max(12), nextSiteHours: z.number().min(0).max(12) });
export type WayHours = z.infer<typeof wayHoursSchema>;

/** A test of the sprinkler contractor at a site: one entry for each generator there, so that each is under test meanwhile. */
export type PlannedTest = { readonly id: string; readonly site: string; readonly siteName: string; readonly area: string | null; readonly timeZone: string; readonly kind: EntryKind; readonly startedAt: string; readonly finishedAt: string; readonly generators: readonly string[]; readonly by: string; readonly note: string };

/** A generator that wants somebody, and by when. Days are those of the site's calendar, `2026-12-01`. */
export type PlanNeed = {
  readonly site: string;
  readonly siteName: string;
  readonly area: string | null;
  readonly access: string | null;
  readonly timeZone: string;
  readonly generator: string;
  readonly generatorName: string;
  /** Open findings that a visit would look at, the leading one first. */
  readonly findings: readonly string[];
  readonly cause: Cause | null;
  readonly causeSays: string;
  readonly state: FindingState | null;
  /** When the last service since it was found ended. */
  readonly servedAt: string | null;
  readonly shelvedUntil: string | null;
  readonly trade: Trade;
  readonly whoMustGo: string;
  /** On site, h. */
  readonly hours: number;
  readonly bring: readonly string[];
  readonly atOnce: boolean;
  /** "Can wait until", with what it comes from. */
  readonly byDay: string | null;
  readonly byBecause: 'condition' | 'due' | null;
  readonly limit: LimitName | null;
  /** From `serviceEvery`, days or hours, beside the condition. */
  readonly dueDay: string | null;
  readonly forecast: Forecast | null;
};

/** One trip in the plan: planned by a person (`visit`), or proposed (`visit` is null). */
export type PlanTrip = {
  readonly key: string;
  readonly visit: Visit | null;
  readonly site: string;
  readonly siteName: string;
  readonly area: string | null;
  readonly access: string | null;
  readonly timeZone: string;
  readonly needs: readonly PlanNeed[];
  readonly generators: readonly string[];
  readonly findings: readonly string[];
  readonly day: string | null;
  readonly technician: string | null;
  readonly trade: Trade;
  readonly hours: number;
  readonly bring: readonly string[];
  readonly atOnce: boolean;
  readonly byDay: string | null;
  /** The contractor's test that day at that site. */
  readonly withTest: string | null;
  /** Why then and by whom, in sentences. */
  readonly because: readonly string[];
  /** What doesn't fit: past its date, nobody free, someone away. */
  readonly warnings: readonly string[];
  /** What a week later would mean, in sentences. */
  readonly slip: readonly string[];
};

/** A day of the plan: who has how many hours, and how many of them are planned or proposed, the way included. */
export type PlanDay = { readonly day: string; readonly people: readonly { readonly name: string; readonly hours: number; readonly plannedHours: number; readonly proposedHours: number; readonly away: boolean }[] };

/** GET /api/v1/plan?from=&days= */
export type PlanAnswer = {
  readonly at: string | null;
  /** By the server's clock, UTC. */
  readonly today: string;
  readonly fromDay: string;
  readonly toDay: string;
  readonly days: readonly PlanDay[];
  readonly trips: readonly PlanTrip[];
  /** What fits in no day of the span, with the reason. */
  readonly left: readonly { readonly trip: PlanTrip; readonly says: string }[];
  /** Known, but not for this span: later dates, shelved, or waiting for somebody on site. */
  readonly later: readonly { readonly need: PlanNeed; readonly says: string }[];
  /** How the proposal came about. */
  readonly says: readonly string[];
  readonly technicians: readonly Technician[];
  readonly way: WayHours;
  readonly tests: readonly PlannedTest[];
};
