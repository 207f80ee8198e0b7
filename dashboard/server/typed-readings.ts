import { z } from 'zod';
import type { GeneratorKey } from '../../shared/ids.ts';
import { isoFromMs } from '../../shared/time.ts';
import { readingsTopic } from '../../shared/topics.ts';
import type { FleetView } from './fleet-view.ts';
import { knownGenerator } from './generator-routes.ts';
import { HttpProblem } from './problem.ts';
import { byText, ONE_GENERATOR } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

const SECONDS_PER_HOUR = 3600;
const METERS = { 'run-time': { unit: 'h', says: 'h' }, starts: { unit: 'count', says: 'starts' } } as const;

/** Meters that people read where no gateway does: through the same door as all readings. */
export function typedReadings(fleet: FleetView, params: ServerParams): Route[] {
  return [
    route({
      method: 'post', path: '/readings/typed', tag: 'registry', summary: 'A meter that a person read: hours run, or starts', problems: [404, 409, 422],
      body: z.strictObject({
        by: byText, ...ONE_GENERATOR, channel: z.enum(['run-time', 'starts']), at: z.iso.datetime({ offset: true, error: 'must be an ISO 8601 time with offset, such as 2026-03-02T09:30:00Z' }),
        value: z.number().min(0).max(10_000_000).describe('hours, or a count'), meterWasReset: z.boolean().optional().describe('the meter was replaced or set back, so a lower value is right'),
      }),
      answer: { status: 201, contentType: 'application/json', schema: z.strictObject({ taken: z.literal(true) }), says: 'it is kept' },
      handle: async ({ body: { by, site, generator, channel, at, value, meterWasReset } }) => {
        const { registered } = await knownGenerator(fleet, site, generator);
        const atMs = Date.parse(at);
        if (atMs > params.clock.nowMs()) throw new HttpProblem(400, 'Wrong in the body: at must not be in the future.');
        if (meterWasReset !== true) await refuseBackwards(params, registered.key, channel, atMs, value);
        const published = `${site}/${registered.generator.publishesAs ?? generator}` as GeneratorKey;
        const refused = await params.ingest.typeIn(readingsTopic(published), JSON.stringify([{ n: channel, u: METERS[channel].unit, t: atMs / 1000, v: value }]));
        if (refused.length > 0) throw new HttpProblem(422, `It was not taken: ${refused.map((one) => one.says).join(' ')}`);
        await params.records.audit({ atMs: params.clock.nowMs(), by, did: `typed in a meter: ${value} ${METERS[channel].says}`, about: `${site}/${generator} at ${isoFromMs(atMs)}` });
        return { json: { taken: true }, status: 201 };
      },
    }),
  ];
}

/** @throws {HttpProblem} 409 when the meter would have run backwards: a slip of the finger is likelier than a new meter. */
async function refuseBackwards({ readings }: ServerParams, key: GeneratorKey, channel: 'run-time' | 'starts', atMs: number, value: number): Promise<void> {
  const last = (await readings.latest([key])).find((one) => one.channel === channel);
  if (last === undefined) return;
  const known = channel === 'run-time' ? last.value / SECONDS_PER_HOUR : last.value;
  const backwards = atMs >= last.atMs ? value < known - 1e-6 : value > known + 1e-6;
  if (backwards) throw new HttpProblem(409, `The meter stood at ${Math.round(known * 10) / 10} ${METERS[channel].says} at ${isoFromMs(last.atMs)}, so this value can't be right for that time. If the meter was replaced or set back, say so (meterWasReset).`);
}
