import { z } from 'zod';
import { CAUSES, LIMIT_NAMES } from '../../shared/finding.ts';
import { type Problem, problemsOf } from '../../shared/registry.ts';

const time = z.iso.datetime({ offset: true });
const cause = z.enum(CAUSES as [string, ...string[]]).transform((name) => name as (typeof CAUSES)[number]);
const place = { site: z.string(), generator: z.string() };

const truthSchema = z.object({
  faults: z.array(z.object({ ...place, cause, onset: time, knowableAt: time.nullable(), end: time.nullable(), endedBy: z.string().nullable().default(null), severity: z.string(), shape: z.string(), byItself: z.boolean().exactOptional(), deliveryLoss: z.number().min(0).max(1).exactOptional(), dueAt: time.nullable().exactOptional() })).default([]),
  upsets: z.array(z.object({ ...place, kind: z.string(), from: time, to: time, maySay: z.array(cause) })).default([]),
  branches: z.array(z.object({ at: time, ...place, lossHours: z.number().min(0), crossings: z.partialRecord(z.enum(LIMIT_NAMES), time.nullable()) })).default([]),
});

/** What really was, as `truth.json` says it (design, section 5). Fields that scoring doesn't need may stand beside these. */
export type Truth = z.infer<typeof truthSchema>;
/** `byItself`: it came about by loading and wear, with no fault drawn; then `deliveryLoss` is the largest share of delivery that it took. `dueAt`: by when what a visit left shut or open is to be known; null where that time never came. */
export type TrueFault = Truth['faults'][number];
export type TrueUpset = Truth['upsets'][number];
/** A generator left alone from `at` on: hours over a limit in the next 30 days, and when each limit is crossed; null = not in the branch's life. */
export type TrueBranch = Truth['branches'][number];

/** Read the value of a `truth.json`; every problem is listed. */
export function parseTruth(value: unknown): { readonly truth: Truth } | { readonly problems: readonly Problem[] } {
  const parsed = truthSchema.safeParse(value);
  return parsed.success ? { truth: parsed.data } : { problems: problemsOf(parsed.error) };
}
