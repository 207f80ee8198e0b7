// Issue: "The main job, end to end": the API that the pages stand on. A real server on a free port over a real SQLite file.
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { z } from 'zod';
import type { GatewayRow, GeneratorDetail, LatestValue, OverviewRow, Page, ReadingsAnswer, ServiceListRow } from '../../../shared/api.ts';
import type { RankingReport } from '../../../shared/finding.ts';
import { auditLineSchema, channelRowSchema, cycleSchema, dayRowSchema, detailSchema, findingSchema, gatewayRowSchema, generatorListRowSchema, overviewRowSchema, packetSchema, pageSchema, problemSchema, quarantineItemSchema, rankingSchema, readingsSchema, serviceRowSchema, statusSchema, entryAnswerSchema } from '../../../dashboard/server/answer-schemas.ts';
import { siteSchema } from '../../../shared/registry.ts';
import { DAY_MS, type InventedServer, iso, NOW_MS, startInvented } from './invented-fleet.ts';

let world: InventedServer;
beforeAll(async () => {
  world = await startInvented();
});
afterAll(() => world.stop());

async function getJson<T>(path: string, schema?: z.ZodType, status = 200): Promise<T> {
  const response = await fetch(`${world.base}/api/v1${path}`);
  const body: unknown = await response.json();
  expect({ path, status: response.status, body: response.status === status ? 'as expected' : body }).toEqual({ path, status, body: 'as expected' });
  if (schema !== undefined) expect(schema.safeParse(body).error?.issues ?? []).toEqual([]);
  return body as T;
}

test('GET /ranking gives the one object of the contract, exactly as analysis wrote it', async () => {
  const ranking = await getJson<RankingReport>('/ranking', rankingSchema);
  expect(ranking).toEqual(await world.records.report());
});

test('GET /overview gives rows in order of rank, with names, the leading finding and 42 days', async () => {
  const { items, next } = await getJson<Page<OverviewRow>>('/overview', pageSchema(overviewRowSchema));
  expect(items.map((row) => row.rank)).toEqual([1, 2, 3, 4, 5, 6, 7]);
  expect(next).toBeNull();
  expect(items[0]).toMatchObject({ siteName: '=Invented, "quoted" warehouse', generatorName: 'Generator 0', area: 'north', claimed: true, lastHeardAt: iso(NOW_MS - 30_000), lead: { finding: 'invented-finding-0', cause: 'leak', probability: 0.93, state: 'new' } });
  expect(items[0]?.band).toHaveLength(42);
  expect(items[0]?.band.at(-1)).toMatchObject({ day: '2026-11-24' });
  expect(items[2]?.lead?.probability).toBeCloseTo(0.9, 10);
  expect(items[6]).toMatchObject({ dataState: 'not-reporting', because: 'nothing was ever heard from it', lastHeardAt: null });
});

test('GET /overview goes on where the page before ended', async () => {
  const first = await getJson<Page<OverviewRow>>('/overview?limit=4');
  const second = await getJson<Page<OverviewRow>>(`/overview?limit=4&after=${first.next}`);
  expect([...first.items, ...second.items].map((row) => row.rank)).toEqual([1, 2, 3, 4, 5, 6, 7]);
  expect(second.next).toBeNull();
});

test('GET /sites, /generators and /channels list what is registered, heard and understood', async () => {
  const sites = await getJson<Page<{ id: string }>>('/sites', pageSchema(siteSchema));
  expect(sites.items.map((site) => site.id)).toEqual(['invented-1', 'invented-2', 'invented-3', 'invented-4']);
  const generators = await getJson<Page<{ generator: string; dataState: string }>>('/generators?site=invented-4', pageSchema(generatorListRowSchema));
  expect(generators.items).toMatchObject([{ generator: 'gen-1', dataState: 'not-reporting' }]);
  expect((await getJson<Page<unknown>>('/channels', pageSchema(channelRowSchema))).items).toHaveLength(19);
  const sent = await getJson<Page<{ channel: string }>>('/channels?site=invented-1&generator=gen-1', pageSchema(channelRowSchema));
  expect(sent.items.map((one) => one.channel).sort()).toEqual(['room-temperature', 'run-time', 'running', 'tank-pressure']);
});

test('GET /generators/{site}/{generator} gives value, unit and age, and never a stale value as fresh', async () => {
  const detail = await getJson<GeneratorDetail>('/generators/invented-1/gen-1', detailSchema);
  expect(detail).toMatchObject({ claimed: true, dataState: 'reporting', lastHeardAt: iso(NOW_MS - 30_000), row: { rank: 1 }, findings: [{ id: 'invented-finding-0' }] });
  const fresh = new Map(detail.latest.map((one: LatestValue) => [one.channel, one.fresh]));
  // Reports every 5 min: 15 min are fresh. A run state holds for 75 min; a room temperature two hours old doesn't.
  expect(Object.fromEntries(fresh)).toEqual({ running: true, 'run-time': true, 'tank-pressure': true, 'room-temperature': false });
  expect(detail.latest.find((one) => one.channel === 'tank-pressure')).toMatchObject({ unit: 'kPa', label: 'tank pressure' });
  expect(detail.cannotTell).toContain("can't tell elements, drain, compressor and membrane apart here: no nitrogen reading and no pressure before and after the elements");
});

test('GET /days and /cycles page through a span without loss or doubles', async () => {
  const all = await getJson<Page<{ day: string }>>('/days?site=invented-1&generator=gen-1', pageSchema(dayRowSchema));
  expect(all.items).toHaveLength(60);
  const [days, cycles] = [await readAll('/days?site=invented-1&generator=gen-1&limit=7'), await readAll('/cycles?site=invented-1&generator=gen-1&limit=7')];
  expect(days).toEqual(all.items);
  expect(cycles).toHaveLength(30);
  await getJson('/cycles?site=invented-1&generator=gen-1', pageSchema(cycleSchema));
  const week = await getJson<Page<{ day: string }>>('/days?site=invented-1&generator=gen-1&from=2026-11-01&to=2026-11-08');
  expect(week.items.map((one) => one.day)).toEqual(['2026-11-01', '2026-11-02', '2026-11-03', '2026-11-04', '2026-11-05', '2026-11-06', '2026-11-07']);
});

async function readAll(path: string): Promise<unknown[]> {
  const items: unknown[] = [];
  for (let after = ''; ; ) {
    const page = await getJson<Page<unknown>>(`${path}${after}`);
    items.push(...page.items);
    if (page.next === null) return items;
    after = `&after=${page.next}`;
  }
}

test('GET /readings gives min, mean and max of spans and leaves gaps out', async () => {
  const answer = await getJson<ReadingsAnswer>('/readings?site=invented-1&generator=gen-1&channel=tank-pressure&buckets=24', readingsSchema);
  expect(answer).toMatchObject({ unit: 'kPa', label: 'tank pressure', bucketMs: 3_600_000, toAt: iso(NOW_MS), fromAt: iso(NOW_MS - DAY_MS) });
  // Readings began 12 h ago: 12 of 24 hours hold some, at most one more by the edge.
  expect(answer.points.length).toBeGreaterThanOrEqual(12);
  expect(answer.points.length).toBeLessThanOrEqual(13);
  for (const [, min, mean, max] of answer.points) expect(min <= mean && mean <= max).toBe(true);
});

test('GET /service-list is by date, says which date of the forecast it is, and puts what waits for nothing first', async () => {
  const { items } = await getJson<Page<ServiceListRow>>('/service-list', pageSchema(serviceRowSchema));
  expect(items[0]).toMatchObject({ cause: 'valve-left-shut', byAt: iso(NOW_MS), byBecause: 'condition', whoMustGo: expect.stringContaining('at once') });
  expect(items[1]).toMatchObject({ generator: 'gen-1', cause: 'leak', byAt: iso(NOW_MS + 5 * DAY_MS), byQuantile: 0.1, causeSays: 'more nitrogen is drawn: leak in the piping', whoMustGo: 'licensed sprinkler fitter, and a hold test afterwards' });
  expect(items[1]?.runHours).toBeCloseTo(1000, 0);
  const dates = items.map((row) => (row.byAt === null ? Infinity : Date.parse(row.byAt)));
  expect(dates).toEqual([...dates].sort((a, b) => a - b));
  expect(items.map((row) => row.cause)).toContain(null);
  // Nothing is due before its day.
  expect(items.filter((row) => row.cause === null).map((row) => [row.causeSays, Date.parse(row.dueAt!) > NOW_MS])).toEqual(expect.arrayContaining([['next service', true]]));
  expect(items).not.toContainEqual(expect.objectContaining({ byAt: null, cause: null }));
});

test('GET /service-list.csv is RFC 4180, runs no formula and leaves numbers below 0 alone', async () => {
  const response = await fetch(`${world.base}/api/v1/service-list.csv`);
  expect(response.headers.get('content-type')).toBe('text/csv; charset=utf-8; header=present');
  expect(response.headers.get('content-disposition')).toContain('service-list-simulated.csv');
  const text = await response.text();
  const { items } = await getJson<Page<ServiceListRow>>('/service-list');
  const lines = text.split('\r\n');
  expect(lines).toHaveLength(items.length + 2);
  expect(text).toContain('"\'=Invented, ""quoted"" warehouse"');
  expect(text).toContain("\"'-5 % delivery, +62 % demand\"");
});

test('GET /gateways says who is there, what was sent in which unit, and what was refused', async () => {
  const { items } = await getJson<Page<GatewayRow>>('/gateways', pageSchema(gatewayRowSchema));
  expect(items.map((row) => [row.site, row.gateway])).toEqual([['invented-1', 'box-1'], ['invented-2', null], ['invented-3', null], ['invented-4', null]]);
  const first = items[0]?.generators[0];
  expect(first).toMatchObject({ generator: 'gen-1', silent: false, reportEveryS: 300, refused: [{ reason: 'unknown-unit', count: 1 }] });
  expect(first?.channels.find((one) => one.channel === 'tank-pressure')).toMatchObject({ sentUnit: 'Pa', plausible: true });
  // 72 in a room, in °C: a gateway that sends °F and says Cel.
  expect(first?.channels.find((one) => one.channel === 'room-temperature')).toMatchObject({ plausible: false, plausibleSays: expect.stringContaining('Fahrenheit') });
  expect(items[2]?.generators.map((one) => one.silent)).toEqual([false, true]);
});

test('GET /packets, /quarantine, /status, /healthz and /visits answer in their shapes', async () => {
  expect((await getJson<Page<unknown>>('/packets?site=invented-1&generator=gen-1', pageSchema(packetSchema))).items).toHaveLength(1);
  expect((await getJson<Page<unknown>>('/packets?site=invented-1&generator=gen-2')).items).toHaveLength(0);
  expect((await getJson<Page<{ reason: string }>>('/quarantine?reason=unknown-unit&generator=invented-1/gen-1&released=false', pageSchema(quarantineItemSchema))).items).toMatchObject([{ reason: 'unknown-unit' }]);
  expect((await getJson<Page<unknown>>('/quarantine?reason=malformed')).items).toEqual([]);
  expect(await getJson('/status', statusSchema)).toEqual(world.status.now);
  expect(await getJson('/healthz')).toEqual({ ok: true });
  await getJson('/visits', pageSchema(entryAnswerSchema));
  await getJson('/findings', pageSchema(findingSchema));
  await getJson('/audit', pageSchema(auditLineSchema));
});

test('GET /readyz says why not', async () => {
  expect(await getJson('/readyz')).toEqual({ ok: true });
  const well = world.status.now;
  world.status.now = { ...well, brokerConnected: false, brokerSays: 'connection refused', storeWritable: false };
  const problem = await getJson<{ detail: string }>('/readyz', problemSchema, 503);
  world.status.now = well;
  expect(problem.detail).toBe('Not ready: the store cannot be written; no connection to the broker: connection refused.');
});

test('GET with what can not be answered is a problem that names it and says what to do', async () => {
  const cases: readonly [path: string, status: number, detail: RegExp][] = [
    ['/overview?limti=5', 400, /unknown: limti.*Known here: limit, after/],
    ['/overview?limit=0', 400, /limit: /],
    ['/overview?limit=1001', 400, /limit: /],
    ['/overview?limit=many', 400, /limit: must be a whole number of 1 to 1000/],
    ['/overview?after=x', 400, /after: must be the `next` of the page before/],
    ['/ranking?limit=5', 400, /unknown: limit.*No parameters/],
    ['/days?site=invented-1', 400, /generator: /],
    ['/days?site=Invented&generator=gen-1', 400, /site: must be 1 to 64/],
    ['/days?site=invented-1&generator=gen-1&from=yesterday', 400, /from: must be an ISO 8601/],
    ['/days?site=invented-1&generator=gen-1&from=2026-11-08&to=2026-11-01', 400, /from must be before to/],
    ['/readings?site=invented-1&generator=gen-1&channel=colour', 400, /channel: must be a channel, see/],
    ['/channels?site=invented-1', 400, /belong together/],
    ['/findings?open=perhaps', 400, /open: /],
    ['/quarantine?reason=bad-luck', 400, /reason: /],
    ['/generators/invented-99/gen-1', 404, /No generator invented-99\/gen-1 .*GET \/api\/v1\/generators/],
    ['/days?site=invented-99&generator=gen-1', 404, /No generator/],
    ['/packets?site=invented-99&generator=gen-1', 404, /No generator/],
    ['/findings/no-such', 404, /No finding/],
    ['/nothing-here', 404, /openapi\.json/],
    ['/findings/invented-finding-0/acknowledge', 405, /GET is not taken here; POST is/],
  ];
  for (const [path, status, detail] of cases) {
    const response = await fetch(`${world.base}/api/v1${path}`);
    expect([path, response.status, response.headers.get('content-type')]).toEqual([path, status, 'application/problem+json; charset=utf-8']);
    const problem = problemSchema.parse(await response.json());
    expect(problem).toMatchObject({ status, type: 'about:blank' });
    expect(problem.detail).toMatch(detail);
  }
});
