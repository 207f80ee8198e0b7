import type { Problem, SiteRecord } from './registry.ts';

/*
 * What the server and the Settings page say to each other about the registry, under /api/v1/registry. Times are ISO 8601 UTC.
 */

/** One field of a site or a generator before and after, as people read it; `null` = not there. */
export type FieldChange = { readonly where: string; readonly from: string | null; readonly to: string | null };

/** A site as the registry has it; `recordedAt` goes back with a change, so that nobody overwrites what they did not see. */
export type SiteAsKept = { readonly site: SiteRecord; readonly recordedAt: string; readonly validFrom: string; readonly by: string };

/** GET /api/v1/registry */
export type RegistryAnswer = { readonly sites: readonly SiteAsKept[]; readonly unclaimed: readonly { readonly site: string; readonly generator: string; readonly lastHeardAt: string | null }[] };

/** GET /api/v1/registry/history?site= → Page<RegistryHistoryLine>, newest first. */
export type RegistryHistoryLine = { readonly site: string; readonly recordedAt: string; readonly validFrom: string; readonly by: string; readonly fields: readonly FieldChange[] };

/** POST /api/v1/registry/preview { text }: what a file would change, and what is wrong in it. `state` goes into the import. */
export type RegistryPreview = { readonly problems: readonly Problem[]; readonly changes: readonly { readonly site: string; readonly isNew: boolean; readonly fields: readonly FieldChange[] }[]; readonly same: readonly string[]; readonly notInFile: readonly string[]; readonly state: string };

/** What POST /api/v1/registry/sites and …/generators take beside the record itself. `seenRecordedAt`: of the site, `null` for a new one. */
export type RegistryWrite = { readonly by: string; readonly validFromAt?: string; readonly seenRecordedAt: string | null };

/** POST /api/v1/readings/typed: a meter that a person read; hours or a count. */
export type TypedReading = { readonly by: string; readonly site: string; readonly generator: string; readonly channel: 'run-time' | 'starts'; readonly at: string; readonly value: number; readonly meterWasReset?: boolean };
