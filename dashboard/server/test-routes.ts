import { createHash } from 'node:crypto';
import { z } from 'zod';
import { type Entry, entrySchema } from '../../shared/entry.ts';
import type { PlannedTest } from '../../shared/plan.ts';
import { DAY_MS, HOUR_MS, isoFromMs } from '../../shared/time.ts';
import { pageSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { knownGenerator } from './generator-routes.ts';
import { HttpProblem } from './problem.ts';
import { byText, idText, noteText, PAGING, pageOf } from './query-schemas.ts';
import { parsed, type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

const KINDS = ['trip-test', 'low-pressure-test', 'hold-test', 'purge', 'impairment'] as const;
const time = z.iso.datetime({ offset: true });
/** A test whose end nobody said is taken as four hours, as analysis does. */
const UNENDED_MS = 4 * HOUR_MS;
const AHEAD_DAYS = 120;

const testSchema = z.strictObject({ id: z.string(), site: z.string(), siteName: z.string(), area: z.string().nullable(), timeZone: z.string(), kind: z.enum(KINDS), startedAt: time, finishedAt: time, generators: z.array(z.string()), by: z.string(), note: z.string() });
const body = z.strictObject({
  id: z.string().min(1).max(40).optional().describe('of a known test: it is moved or cancelled'), site: idText, generators: z.array(idText).max(500).default([]).describe('all of the site when left out'),
  kind: z.enum(KINDS).default('trip-test'), startedAt: time, finishedAt: time, cancelled: z.boolean().default(false), note: noteText.default(''), by: byText,
});

type Sites = ReadonlyMap<string, { readonly name: string; readonly area: string | null; readonly timeZone: string }>;

/**
 * The sprinkler contractor's tests: one entry for each generator of the site, so that each is under test from then to then and
 * nothing is found that the test itself made. A cancelled one stays as an entry of no length.
 */
export function testRoutes(fleet: FleetView, params: ServerParams, changed: () => void): Route[] {
  const { records, clock } = params;
  return [
    route({
      method: 'get', path: '/tests', tag: 'plan', summary: 'Tests of the sprinkler contractor, by date; the next 120 days', query: z.strictObject(PAGING),
      answer: { status: 200, contentType: 'application/json', schema: pageSchema(testSchema), says: 'a page of tests' },
      handle: async ({ query }) => {
        const nowMs = clock.nowMs();
        return { json: pageOf(plannedTests(await records.entries(), await sitesOf(fleet), nowMs - DAY_MS, nowMs + AHEAD_DAYS * DAY_MS), query) };
      },
    }),
    route({
      method: 'post', path: '/tests', tag: 'plan', summary: 'Enter, move or cancel a test of the sprinkler contractor; its generators are under test meanwhile', body, problems: [404],
      answer: { status: 201, contentType: 'application/json', schema: z.strictObject({ id: z.string(), entries: z.number() }), says: 'its id, and how many generators it covers' },
      handle: async ({ body: test }) => {
        const nowMs = clock.nowMs();
        const id = test.id ?? `test-${createHash('sha256').update(`${nowMs} ${JSON.stringify(test)}`).digest('hex').slice(0, 16)}`;
        const entries = await entriesOf(id, test, fleet, params);
        for (const entry of entries) {
          await records.saveEntry(entry, test.by);
          params.onEntry(entry);
        }
        await records.audit({ atMs: nowMs, by: test.by, did: `${test.cancelled ? 'cancelled' : test.id === undefined ? 'entered' : 'moved'} ${test.kind}${test.cancelled ? '' : ` of ${test.startedAt}`}`, about: `${test.site} ${id}` });
        changed();
        return { json: { id, entries: entries.length }, status: 201 };
      },
    }),
  ];
}

async function sitesOf(fleet: FleetView): Promise<Sites> {
  return new Map((await fleet.generators()).map(({ registered: { site } }) => [site.id, { name: site.name ?? site.id, area: site.area ?? null, timeZone: site.timeZone }]));
}

async function entriesOf(id: string, test: z.output<typeof body>, fleet: FleetView, { records, clock }: ServerParams): Promise<Entry[]> {
  const known = (await records.entries()).filter((entry) => testIdOf(entry) === id);
  if (test.id !== undefined && known.length === 0) throw new HttpProblem(404, `No test has the id ${JSON.stringify(id)}. GET /api/v1/tests lists them; leave the id out for a new one.`);
  if (known.some((entry) => entry.site !== test.site)) throw new HttpProblem(404, `The test ${id} is at ${known[0]?.site}.`);
  const atSite = (await fleet.generators()).map((one) => one.registered).filter((one) => one.site.id === test.site).map((one) => one.generator.id);
  if (atSite.length === 0) throw new HttpProblem(404, `No site ${JSON.stringify(test.site)} is known. GET /api/v1/sites lists them.`);
  const generators = known.length > 0 ? known.map((entry) => entry.generator) : test.generators.length > 0 ? test.generators : atSite;
  for (const generator of generators) await knownGenerator(fleet, test.site, generator);
  const startedAt = test.startedAt;
  return generators.map((generator, index) => parsed(entrySchema, { id: known.find((entry) => entry.generator === generator)?.id ?? `${id}.${index + 1}`, site: test.site, generator, kind: test.kind, startedAt, finishedAt: test.cancelled ? startedAt : test.finishedAt, recordedAt: isoFromMs(clock.nowMs()), by: test.by, note: test.cancelled ? `cancelled${test.note === '' ? '' : `: ${test.note}`}` : test.note }, 'body'));
}

/** The test that an entry belongs to: entries of one test share what stands before the last point. */
function testIdOf(entry: Entry): string {
  return entry.id.replace(/\.\d+$/, '');
}

/** Tests in [fromMs, toMs) by start, one for all entries of a test. */
export function plannedTests(entries: readonly Entry[], sites: Sites, fromMs: number, toMs: number): PlannedTest[] {
  const tests = new Map<string, PlannedTest>();
  for (const entry of entries) {
    const startMs = Date.parse(entry.startedAt);
    if (!(KINDS as readonly string[]).includes(entry.kind) || startMs < fromMs || startMs >= toMs || entry.finishedAt === entry.startedAt) continue;
    const id = testIdOf(entry);
    const key = `${entry.site} ${id}`;
    const site = sites.get(entry.site);
    const known = tests.get(key);
    tests.set(key, {
      id, site: entry.site, siteName: site?.name ?? entry.site, area: site?.area ?? null, timeZone: site?.timeZone ?? 'UTC', kind: entry.kind, startedAt: entry.startedAt, finishedAt: entry.finishedAt ?? isoFromMs(startMs + UNENDED_MS),
      generators: [...(known?.generators ?? []), entry.generator], by: entry.by ?? '', note: entry.note ?? '',
    });
  }
  return [...tests.values()].sort((a, b) => Date.parse(a.startedAt) - Date.parse(b.startedAt) || (a.id < b.id ? -1 : 1));
}
