import { z } from 'zod';
import { isId } from './ids.ts';
import { PARTS } from './registry.ts';

export const VISIT_STATES = ['draft', 'planned', 'under-way', 'recorded', 'verified', 'cancelled'] as const;
export type VisitState = (typeof VISIT_STATES)[number];

const time = z.iso.datetime({ offset: true });

/**
 * A trip to one site by one person: planned by the lead, carried out and recorded by the technician. What analysis learns of it
 * are the entries that recording makes, one for each generator served. Every save is a new revision; the newest counts.
 */
export const visitSchema = z.strictObject({
  id: z.string().min(1).max(64),
  site: z.string().refine(isId),
  /** Generators of the site that are to be looked at. */
  generators: z.array(z.string().refine(isId)).min(1).max(50),
  state: z.enum(VISIT_STATES),
  procedure: z.enum(['service', 'find-the-leak']).default('service'),
  /** The day in the site's calendar, and the time of day if one was agreed. */
  plannedFor: z.iso.date().nullable().default(null),
  plannedTime: z.string().regex(/^\d{2}:\d{2}$/).nullable().default(null),
  hours: z.number().gt(0).max(24).default(2),
  /** Who goes; a name until there are accounts. */
  technician: z.string().max(80).nullable().default(null),
  findings: z.array(z.string()).max(100).default([]),
  /** What to bring, as planned. */
  bring: z.array(z.string().max(120)).max(50).default([]),
  /** A trip together with the sprinkler contractor's test of that id in the calendar of tests. */
  withTest: z.string().max(64).nullable().default(null),
  note: z.string().max(4000).default(''),
  /** What was done, by generator; written by the technician's page and kept as it is. Readings have their unit last in the name. */
  work: z
    .record(
      z.string(),
      z.strictObject({
        startedAt: time.nullable().default(null),
        finishedAt: time.nullable().default(null),
        /** Step id → when it was ticked, and what was noted there. */
        steps: z.record(z.string(), z.strictObject({ doneAt: time, note: z.string().max(1000).optional() })).default({}),
        asFound: z.record(z.string(), z.number()).default({}),
        asLeft: z.record(z.string(), z.number()).default({}),
        /** Valve name → position as found and as left. */
        valves: z.record(z.string(), z.strictObject({ found: z.enum(['open', 'shut']).nullable(), left: z.enum(['open', 'shut']).nullable() })).default({}),
        replaced: z.array(z.enum(PARTS)).default([]),
        adjusted: z.record(z.string(), z.union([z.string(), z.number(), z.boolean()])).default({}),
        note: z.string().max(4000).default(''),
      }),
    )
    .default({}),
  /** Who was told before anything was closed, and who confirmed normal after. */
  told: z.array(z.strictObject({ who: z.enum(['impairment-coordinator', 'supervising-station']), name: z.string().max(80), at: time, what: z.enum(['before', 'back-to-normal']) })).default([]),
  /** Name typed as signature, when. */
  signed: z.strictObject({ by: z.string().max(80), at: time }).nullable().default(null),
  performedAt: time.nullable().default(null),
  recordedAt: time.nullable().default(null),
  /** Grows with every save; a save must name the one that it saw. */
  revision: z.number().int().min(0).default(0),
  updatedAt: time,
  updatedBy: z.string().max(80),
});
export type Visit = z.infer<typeof visitSchema>;
