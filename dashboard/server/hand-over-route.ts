import { z } from 'zod';
import { DAY_MS, HOUR_MS, isoFromMs } from '../../shared/time.ts';
import { handOver } from '../views/hand-over.ts';
import { handOverSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

/** A shift, when nobody says how long it was; and the longest that a note may look back, h. By hours, since a browser's clock may not be the server's. */
const SHIFT_HOURS = 8;
const MOST_HOURS = 31 * 24;
/** Closed findings are looked for among the newest so many. */
const MOST_CLOSED = 1000;

/** The note at the end of a shift. */
export function handOverRoutes(fleet: FleetView, { records, clock }: ServerParams): Route[] {
  return [
    route({
      method: 'get', path: '/hand-over', tag: 'fleet', summary: 'What the next shift must know: new, changed, waiting, shelved, visits, not reporting; the last 8 h unless hours are given', query: z.strictObject({ hours: z.coerce.number().min(1).max(MOST_HOURS).default(SHIFT_HOURS) }),
      answer: { status: 200, contentType: 'application/json', schema: handOverSchema, says: 'the note' },
      handle: async ({ query }) => {
        const nowMs = clock.nowMs();
        const fromMs = nowMs - query.hours * HOUR_MS;
        await fleet.readActions();
        const written = [...(await records.findings({ open: true })), ...(await records.findings({ open: false, limit: MOST_CLOSED }))];
        const [today, tomorrow] = [isoFromMs(nowMs).slice(0, 10), isoFromMs(nowMs + DAY_MS).slice(0, 10)];
        const visits = (await records.visits({ states: ['planned', 'under-way'] })).filter((visit) => visit.state === 'under-way' || (visit.plannedFor !== null && visit.plannedFor >= today && visit.plannedFor <= tomorrow));
        return { json: handOver({ generators: await fleet.generators(), findings: written.map((one) => fleet.laidOver(one)), actions: fleet.actionsFrom(fromMs), actionsOf: fleet.actionsOf, visits, fromMs, nowMs }) };
      },
    }),
  ];
}
