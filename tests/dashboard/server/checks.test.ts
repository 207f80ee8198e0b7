// Issue: "A diagnosis that holds up", item 7: a page asks for the check before leaving, and the analysis answers in the record store. Real server.
import { afterEach, beforeEach, expect, test } from 'vitest';
import type { CheckAnswer } from '../../../shared/api.ts';
import type { LeavingCheck } from '../../../shared/leaving-check.ts';
import { checkAnswerSchema } from '../../../dashboard/server/answer-schemas.ts';
import { type InventedServer, keyAt, NOW_MS, startInvented } from './invented-fleet.ts';

let world: InventedServer;
const woken: number[] = [];
beforeEach(async () => {
  woken.length = 0;
  world = await startInvented({ change: { onJob: (nowMs) => void woken.push(nowMs) } });
});
afterEach(() => world.stop());

async function ask(body: unknown): Promise<{ status: number; answer: CheckAnswer }> {
  const response = await fetch(`${world.base}/api/v1/checks`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
  return { status: response.status, answer: (await response.json()) as CheckAnswer };
}
const read = async (id: string): Promise<Response> => fetch(`${world.base}/api/v1/checks/${id}`);

test('POST /checks leaves a job and wakes the analysis; its answer is read under its id', async () => {
  const { status, answer } = await ask({ site: 'invented-1', generator: 'gen-1' });
  expect(status).toBe(202);
  expect(answer).toMatchObject({ site: 'invented-1', generator: 'gen-1', answeredAt: null, check: null, problem: null });
  expect(woken).toEqual([NOW_MS]);
  expect(await world.records.openJobs()).toMatchObject([{ id: answer.id, generator: keyAt(0), postedAtMs: NOW_MS }]);
  const check: LeavingCheck = { site: 'invented-1', generator: 'gen-1', fromAt: null, toAt: null, verdict: 'too little seen', suspect: null, says: 'Nothing was heard.', items: [{ part: 'rest', state: 'not seen yet', says: 'No rest was seen.' }], notSeen: ['A run.'], care: 'This is no proof of order.' };
  await world.records.answerJob(answer.id, { atMs: NOW_MS + 900, answer: check });
  const given = checkAnswerSchema.parse(await (await read(answer.id)).json());
  expect(given).toMatchObject({ answeredAt: new Date(NOW_MS + 900).toISOString(), check, problem: null });
});

test('POST /checks gives the one that is on its way, and a new one after its answer', async () => {
  const first = await ask({ site: 'invented-1', generator: 'gen-1' });
  world.nowMs += 5000;
  expect((await ask({ site: 'invented-1', generator: 'gen-1' })).answer.id).toBe(first.answer.id);
  expect((await ask({ site: 'invented-1', generator: 'gen-2' })).answer.id).not.toBe(first.answer.id);
  await world.records.answerJob(first.answer.id, { atMs: world.nowMs, problem: 'nothing was heard in the last 30 min' });
  expect((await (await read(first.answer.id)).json()) as CheckAnswer).toMatchObject({ check: null, problem: 'nothing was heard in the last 30 min' });
  expect((await ask({ site: 'invented-1', generator: 'gen-1' })).answer.id).not.toBe(first.answer.id);
});

test('checks refuse what is unknown', async () => {
  expect((await ask({ site: 'invented-1', generator: 'gen-77' })).status).toBe(404);
  expect((await ask({ site: 'invented-1' })).status).toBe(400);
  expect((await read('check-unknown')).status).toBe(404);
});
