import { z } from 'zod';
import { HttpProblem } from './problem.ts';
import { byText, idText } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';
import { knownVisit, tripParams } from './trip-routes.ts';

/** A photo is made small on the phone: about 100 KB of JPEG; this is the most that is taken, in letters of base64. */
const MOST_LETTERS = 400_000;
const MOST_PHOTOS = 12;
/** FF D8 FF, with which every JPEG begins, as base64. */
const JPEG_BEGINS = '/9j/';

const photoRow = z.strictObject({ visit: z.string(), id: z.string(), generator: z.string(), at: z.iso.datetime({ offset: true }), says: z.string() });
const photoBody = z.strictObject({
  id: z.string().regex(/^[\w-]{1,64}$/, 'must be 1 to 64 letters, digits, - or _'), generator: idText, at: z.iso.datetime({ offset: true }), says: z.string().max(200),
  jpegBase64: z.string().max(MOST_LETTERS).regex(/^\/9j\/[A-Za-z0-9+/]+={0,2}$/, 'must be a JPEG in base64'), by: byText,
});
const onePhoto = z.strictObject({ ...tripParams.shape, photo: z.string().min(1).max(64) });

/** Photos of a visit: sent apart from it, so that one bad picture never holds up what was done. */
export function photoRoutes(params: ServerParams): Route[] {
  const { records } = params;
  return [
    route({
      method: 'get', path: '/trips/{id}/photos', tag: 'trips', summary: 'The photos of a visit, without their pictures', params: tripParams, problems: [404],
      answer: { status: 200, contentType: 'application/json', schema: z.array(photoRow), says: 'its photos, oldest first' },
      handle: async ({ params: { id } }) => {
        await knownVisit(params, id);
        return { json: await records.photos(id) };
      },
    }),
    route({
      method: 'post', path: '/trips/{id}/photos', tag: 'trips', summary: 'Add a small JPEG; its id is given on the phone, and sending it twice keeps one', params: tripParams, body: photoBody, problems: [404, 409],
      answer: { status: 201, contentType: 'application/json', schema: photoRow, says: 'the photo as it is kept' },
      handle: async ({ params: { id }, body: { by, ...photo } }) => {
        await knownVisit(params, id);
        const known = await records.photos(id);
        if (known.length >= MOST_PHOTOS && !known.some((one) => one.id === photo.id)) throw new HttpProblem(409, `This visit has ${MOST_PHOTOS} photos already, which is the most that are kept.`);
        await records.savePhoto({ visit: id, ...photo });
        await records.audit({ atMs: params.clock.nowMs(), by, did: 'added a photo', about: `${id} ${photo.id}` });
        return { json: (await records.photos(id)).find((one) => one.id === photo.id), status: 201 };
      },
    }),
    route({
      method: 'get', path: '/trips/{id}/photos/{photo}', tag: 'trips', summary: 'A photo', params: onePhoto, problems: [404],
      answer: { status: 200, contentType: 'image/jpeg', says: 'the picture' },
      handle: async ({ params: { id, photo } }) => {
        const kept = await records.photo(id, photo);
        if (kept === undefined || !kept.jpegBase64.startsWith(JPEG_BEGINS)) throw new HttpProblem(404, `The visit ${id} has no photo ${photo}.`);
        return { stream: (_request, response) => void response.set('cache-control', 'private, max-age=86400').type('image/jpeg').send(Buffer.from(kept.jpegBase64, 'base64')) };
      },
    }),
  ];
}
