// Issue: "Worlds", the engineer's page: its paths, their description, and what is refused. Real server; the runner's place is taken by a plain object, as its own test has it for real.
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { ReplaySurface } from '../../../dashboard/server/replay-surface.ts';
import type { ReplayAsked, ReplayRun } from '../../../shared/world-replay.ts';
import { type InventedServer, startInvented } from './invented-fleet.ts';

const SETTINGS = { falseFindingsPerYear: 0.05, baselineDays: 14, smallestChange: 0.1, horizonDays: 365 };
const STRETCH = { generators: ['site-1/gen-1'], fromAt: '2026-10-01T00:00:00Z', toAt: '2026-11-01T00:00:00Z' };
const FAULT = { cause: 'leak', severity: 'marked', onsetAt: '2026-10-15T00:00:00Z', shape: 'step' };
const asked: ReplayAsked[] = [];
let current: ReplayRun | undefined;
const surface: ReplaySurface = {
  choices: async () => ({ scenarios: [{ file: 'a.yaml', name: 'a', generators: 1, days: 30, text: 'name: a' }], history: [], faults: [], settings: SETTINGS, settingsHash: 'abc', most: { generators: 40, days: 200, textLength: 100_000 } }),
  campaigns: () => [],
  async start(wanted) {
    if (current?.state === 'running') return { busy: current };
    if ('generators' in wanted && wanted.generators > 40) return { problems: ['too many', 'too long'] };
    asked.push(wanted);
    current = { id: 'replay-1', kind: 'simulated', name: 'a', generators: 1, days: 30, seed: 7, state: 'running', doing: 'folding', ratio: 0.255, startedAt: '2026-11-24T12:00:00.000Z', endedAt: null, problem: null };
    return { run: current };
  },
  current: () => current,
  result: () => undefined,
  cancel(id) {
    if (id !== current?.id) return undefined;
    current = { ...current, state: 'cancelled', endedAt: '2026-11-24T12:00:01.000Z' };
    return current;
  },
};
let world: InventedServer;
beforeAll(async () => {
  world = await startInvented({ change: { replays: surface } });
});
afterAll(() => world.stop());

const send = async (path: string, body: unknown): Promise<{ readonly status: number; readonly body: { readonly detail?: string; readonly state?: string } }> => {
  const response = await fetch(`${world.base}/api/v1${path}`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
  return { status: response.status, body: (await response.json()) as { detail?: string; state?: string } };
};
const get = async (path: string): Promise<{ readonly status: number; readonly body: unknown }> => {
  const response = await fetch(`${world.base}/api/v1${path}`);
  return { status: response.status, body: await response.json() };
};

test('replayRoutes() takes exactly one kind of world, one at a time, and lets it be cancelled', async () => {
  expect(await get('/replays/current')).toEqual({ status: 200, body: { run: null } });
  expect((await get('/replays/current/result')).status).toBe(404);
  for (const wrong of [{}, { seed: 7 }, { seed: 7, generators: 3 }, { text: 'x', days: 3 }, { scenario: 'a.yaml', text: 'x' }, { seed: null, generators: 1, days: 1 }, { text: '' }, { scenario: 'a.yaml', more: 1 }, { seed: 7, generators: 1.5, days: 30 }, { history: STRETCH, seed: 7 }, { history: STRETCH, text: 'x' }, { scenario: 'a.yaml', fault: FAULT }, { history: { ...STRETCH, generators: [] } }, { history: STRETCH, fault: { ...FAULT, severity: 'huge' } }, { scenario: 'a.yaml', settings: { ...SETTINGS, falseFindingsPerYear: 0 } }, { scenario: 'a.yaml', other: { ...SETTINGS, energyPricePerKWh: 1 } }]) expect([wrong, (await send('/replays', wrong)).status]).toEqual([wrong, 400]);
  expect((await send('/replays', { seed: 7, generators: 41, days: 300 })).body.detail).toBe('too many\ntoo long');
  expect(asked).toEqual([]);
  expect((await send('/replays', { scenario: 'a.yaml' })).status).toBe(202);
  expect(asked).toEqual([{ scenario: 'a.yaml' }]);
  const second = await send('/replays', { text: 'name: b' });
  expect([second.status, second.body.detail]).toEqual([409, 'One replay runs at a time, and “a” is on its way (25 %). Wait for it, or cancel it.']);
  expect((await send('/replays/cancel', { id: 'replay-9' })).status).toBe(404);
  expect(await send('/replays/cancel', { id: 'replay-1' })).toMatchObject({ status: 200, body: { state: 'cancelled' } });
  expect((await send('/replays', { history: STRETCH, fault: FAULT, settings: SETTINGS, other: { ...SETTINGS, baselineDays: 21 } })).status).toBe(202);
  expect(asked.at(-1)).toEqual({ history: STRETCH, fault: FAULT, settings: SETTINGS, other: { ...SETTINGS, baselineDays: 21 } });
});

test('the description lists the replays where there are some, with the limits in numbers', async () => {
  const { paths } = (await get('/openapi.json')).body as { readonly paths: Readonly<Record<string, unknown>> };
  expect(Object.keys(paths).filter((path) => path.startsWith('/replays'))).toEqual(['/replays/scenarios', '/replays', '/replays/current', '/replays/current/result', '/replays/cancel', '/replays/campaigns']);
  expect(await get('/replays/scenarios')).toMatchObject({ body: { most: { generators: 40, days: 200, textLength: 100_000 } } });
});
