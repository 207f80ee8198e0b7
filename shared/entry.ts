import { z } from 'zod';
import { isId } from './ids.ts';
import { PARTS } from './registry.ts';

export const ENTRY_KINDS = ['service', 'trip-test', 'low-pressure-test', 'hold-test', 'purge', 'set-point', 'impairment'] as const;
export type EntryKind = (typeof ENTRY_KINDS)[number];

const time = z.iso.datetime({ offset: true, error: 'must be an ISO 8601 time with offset, such as 2026-03-02T09:30:00Z' });
const measured = z.record(z.string(), z.number());

/** Something a person logged about a generator: what `visits.json` holds a list of (design, section 5). */
export const entrySchema = z
  .strictObject({
    id: z.string().min(1).max(64),
    site: z.string().refine(isId),
    generator: z.string().refine(isId),
    kind: z.enum(ENTRY_KINDS).default('service'),
    startedAt: time,
    finishedAt: time.optional(),
    /** When it became known to us; the entry acts on the analysis from then on. Defaults to `finishedAt`, else `startedAt`. */
    recordedAt: time.optional(),
    replaced: z.array(z.enum(PARTS)).default([]),
    adjusted: z.record(z.string(), z.union([z.string(), z.number(), z.boolean()])).default({}),
    readings: z.strictObject({ asFound: measured.optional(), asLeft: measured.optional() }).default({}),
    by: z.string().max(120).optional(),
    note: z.string().max(4000).optional(),
  })
  .refine((entry) => entry.finishedAt === undefined || Date.parse(entry.finishedAt) >= Date.parse(entry.startedAt), { error: 'finishedAt must not be before startedAt', path: ['finishedAt'] })
  .transform((entry) => ({ ...entry, recordedAt: entry.recordedAt ?? entry.finishedAt ?? entry.startedAt }));

export type Entry = z.infer<typeof entrySchema>;
export const entriesSchema = z.array(entrySchema);
