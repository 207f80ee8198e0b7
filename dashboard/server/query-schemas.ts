import { z } from 'zod';
import type { Page } from '../../shared/api.ts';
import { parseChannel } from '../../shared/channels.ts';
import { ID_RULE, isId } from '../../shared/ids.ts';
import { msFromIso } from '../../shared/time.ts';

export const idText = z.string().refine(isId, { error: `must be ${ID_RULE}` });
const time = z.string().refine((text) => msFromIso(text) !== undefined, { error: 'must be an ISO 8601 date or time such as 2026-03-02 or 2026-03-02T09:30:00Z' });

/** `?limit=200&after=`: every list takes these. */
export const PAGING = {
  limit: z.coerce.number({ error: 'must be a whole number of 1 to 1000' }).int({ error: 'must be a whole number of 1 to 1000' }).min(1).max(1000).default(200).describe('items on a page, 1 to 1000'),
  after: z.string().regex(/^\d{1,15}$/, 'must be the `next` of the page before').optional().describe('`next` of the page before'),
};
export const ONE_GENERATOR = { site: idText, generator: idText };
export const SPAN = { from: time.optional().describe('start of the span, inclusive'), to: time.optional().describe('end of the span, exclusive') };

export const listQuery = z.strictObject(PAGING);
export const channelText = z.string().refine((text) => parseChannel(text) !== undefined, { error: 'must be a channel, see /api/v1/channels' });
export const byText = z.string().trim().min(1).max(80).describe('name of the person, as typed');
export const noteText = z.string().max(4000);

export function msOf(text: string | undefined, otherwise: number): number {
  return text === undefined ? otherwise : (msFromIso(text) ?? otherwise);
}

/** Cut a page out of a list that is in memory; `after` is the place in the list at which the page before ended. */
export function pageOf<T>(items: readonly T[], query: { readonly limit: number; readonly after?: string | undefined }): Page<T> {
  const from = placeOf(query.after);
  const end = from + query.limit;
  return { items: items.slice(from, end), next: end < items.length ? String(end) : null };
}

/** The place that `next` named; the start without one. */
export function placeOf(after: string | undefined): number {
  return after === undefined ? 0 : Number(after);
}
