import { createHash } from 'node:crypto';
import { z } from 'zod';
import type { HandOver, HandOverNote } from '../../shared/api.ts';
import { HAND_OVER_SCOPE } from '../../shared/setting-scopes.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { DAY_MS, HOUR_MS, isoFromMs, MINUTE_MS } from '../../shared/time.ts';
import { handOver } from '../views/hand-over.ts';
import { handOverNoteSchema, handOverSchema, pageSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { byText, PAGING, pageOf } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

/** A shift, when nobody says how long it was; and the longest that a note may look back, h. By hours, since a browser's clock may not be the server's. */
const SHIFT_HOURS = 8;
const MOST_HOURS = 31 * 24;
/** Closed findings are looked for among the newest so many. */
const MOST_CLOSED = 1000;
const MOST_LETTERS = 4000;
/** The same words of the same person within this are the same note, sent again because an answer was lost. */
const AGAIN_MS = 15 * MINUTE_MS;

/** The note at the end of a shift, and what people told the next one in their own words, kept for good. */
export function handOverRoutes(fleet: FleetView, params: ServerParams): Route[] {
  const { records, clock } = params;
  return [
    route({
      method: 'get', path: '/hand-over', tag: 'fleet', summary: 'What the next shift must know: new, changed, waiting, shelved, work being checked, visits, not reporting; the last 8 h unless hours are given', query: z.strictObject({ hours: z.coerce.number().min(1).max(MOST_HOURS).default(SHIFT_HOURS) }),
      answer: { status: 200, contentType: 'application/json', schema: handOverSchema, says: 'the note' },
      handle: async ({ query }) => ({ json: await noteOf(fleet, params, query.hours) }),
    }),
    route({
      method: 'get', path: '/hand-over/notes', tag: 'fleet', summary: 'What people told the next shift, newest first', query: z.strictObject(PAGING),
      answer: { status: 200, contentType: 'application/json', schema: pageSchema(handOverNoteSchema), says: 'a page of notes' },
      handle: async ({ query }) => ({ json: pageOf(await keptNotes(records), query) }),
    }),
    route({
      method: 'post', path: '/hand-over/notes', tag: 'fleet', summary: 'Keep words to the next shift for good; the same again within minutes keeps one', body: z.strictObject({ words: z.string().trim().min(1).max(MOST_LETTERS), hours: z.number().min(1).max(MOST_HOURS).default(SHIFT_HOURS), by: byText }),
      answer: { status: 201, contentType: 'application/json', schema: handOverNoteSchema, says: 'the note as it is kept' },
      handle: async ({ body: { words, hours, by } }) => {
        const nowMs = clock.nowMs();
        const before = (await keptNotes(records)).find((note) => note.by === by && note.words === words && nowMs - Date.parse(note.at) < AGAIN_MS);
        if (before !== undefined) return { json: before, status: 201 };
        const { generators, reporting, fromAt } = await noteOf(fleet, params, hours);
        const at = isoFromMs(nowMs);
        // No dice: who, when and what make the id.
        const note: HandOverNote = { id: `${at}-${createHash('sha256').update(`${by} ${words}`).digest('hex').slice(0, 8)}`, at, by, words, fromAt, generators, reporting };
        await records.saveSetting(HAND_OVER_SCOPE, note.id, JSON.stringify(note));
        await records.audit({ atMs: nowMs, by, did: 'kept words to the next shift', about: note.id });
        return { json: note, status: 201 };
      },
    }),
  ];
}

async function noteOf(fleet: FleetView, { records, clock }: ServerParams, hours: number): Promise<HandOver> {
  const nowMs = clock.nowMs();
  const fromMs = nowMs - hours * HOUR_MS;
  await fleet.readActions();
  const written = [...(await records.findings({ open: true })), ...(await records.findings({ open: false, limit: MOST_CLOSED }))];
  const [today, tomorrow] = [isoFromMs(nowMs).slice(0, 10), isoFromMs(nowMs + DAY_MS).slice(0, 10)];
  const visits = (await records.visits({ states: ['planned', 'under-way'] })).filter((visit) => visit.state === 'under-way' || (visit.plannedFor !== null && visit.plannedFor >= today && visit.plannedFor <= tomorrow));
  return handOver({ generators: await fleet.generators(), findings: written.map((one) => fleet.laidOver(one)), actions: fleet.actionsFrom(fromMs), actionsOf: fleet.actionsOf, visits, fromMs, nowMs });
}

async function keptNotes(records: Pick<RecordStore, 'savedSettings'>): Promise<HandOverNote[]> {
  const notes = [...(await records.savedSettings(HAND_OVER_SCOPE)).values()].map((text) => handOverNoteSchema.parse(JSON.parse(text)) as HandOverNote);
  return notes.sort((a, b) => (a.at < b.at ? 1 : a.at > b.at ? -1 : 0));
}
