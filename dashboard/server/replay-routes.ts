import { z } from 'zod';
import { CAUSES } from '../../shared/finding.ts';
import { MOST_REPLAY_DAYS, MOST_REPLAY_GENERATORS, MOST_SCENARIO_TEXT, type ReplayAsked, type ReplayChoices } from '../../shared/world-replay.ts';
import { HttpProblem } from './problem.ts';
import type { ReplaySurface } from './replay-surface.ts';
import { type Route, route } from './route.ts';

const cause = z.enum(CAUSES);
const at = z.iso.datetime();
const seed = z.number().int().min(0).max(2 ** 31 - 1);
// The greatest numbers are refused by whoever knows why; here only what is no number of generators at all.
const asked = z.strictObject({
  scenario: z.string().min(1).max(200).optional().describe('name of a file of /replays/scenarios'),
  text: z.string().min(1).max(MOST_SCENARIO_TEXT).optional().describe('a scenario as YAML'),
  seed: seed.optional().describe('of random generators: an odd one'),
  generators: z.number().int().min(1).max(5000).optional().describe(`random ones, at most ${MOST_REPLAY_GENERATORS}`),
  days: z.number().int().min(1).max(1000).optional().describe(`of random generators, at most ${MOST_REPLAY_DAYS}`),
});

/** Exactly one of the three kinds of world. @throws {HttpProblem} 400 for none or a mixture. */
function oneWorld({ scenario, text, seed: dice, generators, days }: z.output<typeof asked>): ReplayAsked {
  if (scenario !== undefined && text === undefined && generators === undefined && days === undefined) return { scenario, seed: dice };
  if (text !== undefined && scenario === undefined && generators === undefined && days === undefined) return { text, seed: dice };
  if (scenario === undefined && text === undefined && dice !== undefined && generators !== undefined && days !== undefined) return { seed: dice, generators, days };
  throw new HttpProblem(400, 'Give either scenario (the name of a file), or text (a scenario), or seed, generators and days.');
}
const run = z.strictObject({ id: z.string(), name: z.string(), generators: z.number(), days: z.number(), seed: z.number(), state: z.enum(['running', 'done', 'failed', 'cancelled']), ratio: z.number(), startedAt: at, endedAt: at.nullable(), problem: z.string().nullable() });
const choices = z.strictObject({ scenarios: z.array(z.strictObject({ file: z.string(), name: z.string(), generators: z.number(), days: z.number(), text: z.string() })), most: z.strictObject({ generators: z.number(), days: z.number(), textLength: z.number() }) });
const fault = z.strictObject({ cause, severity: z.string(), onset: at, end: at.nullable(), outcome: z.enum(['found', 'missed', 'unknowable', 'young', 'behind-another']), causeRight: z.boolean().nullable(), said: cause.nullable(), delayH: z.number().nullable() });
const finding = z.strictObject({ openedAt: at, closedAt: at.nullable(), cause, among: z.array(cause).nullable(), probability: z.number(), outcome: z.enum(['right', 'family', 'excused', 'late', 'false']), because: z.array(z.string()) });
const result = z.strictObject({
  id: z.string(), name: z.string(), seed: z.number(), days: z.number(), fromAt: at, untilAt: at, readings: z.number(), settings: z.string().describe('hash of the analysis settings'),
  summary: z.strictObject({ generatorYears: z.number(), faults: z.number(), found: z.number(), missed: z.number(), apart: z.number(), causeRight: z.number(), delayMedianH: z.number().nullable(), falseFindings: z.number(), falsePerYear: z.strictObject({ low: z.number(), high: z.number(), value: z.number() }) }),
  generators: z.array(z.strictObject({
    site: z.string(), generator: z.string(), zone: z.string(), channels: z.array(z.string()), days: z.array(z.strictObject({ day: z.string(), runS: z.number().nullable(), restS: z.number().nullable() })),
    faults: z.array(fault), upsets: z.array(z.strictObject({ kind: z.string(), from: at, to: at })), visits: z.array(at), findings: z.array(finding),
  })),
});
const JSON_TYPE = 'application/json';

/** Invented worlds for the engineer's page. They leave nothing in the stores, so nobody's name is asked for and no audit is written. */
export function replayRoutes(replays: ReplaySurface | undefined): Route[] {
  if (replays === undefined) return [];
  return [
    route({
      method: 'get', path: '/replays/scenarios', tag: 'replays', summary: 'Scenario files that come with the program',
      answer: { status: 200, contentType: JSON_TYPE, schema: choices, says: 'the files, with their text, and the limits of a run' },
      handle: () => ({ json: { scenarios: replays.scenarios(), most: { generators: MOST_REPLAY_GENERATORS, days: MOST_REPLAY_DAYS, textLength: MOST_SCENARIO_TEXT } } satisfies ReplayChoices }),
    }),
    route({
      method: 'post', path: '/replays', tag: 'replays', summary: `Simulate an invented world in memory and hold what is found against what is true; at most ${MOST_REPLAY_GENERATORS} generators and ${MOST_REPLAY_DAYS} days, one at a time`, body: asked, problems: [409],
      answer: { status: 202, contentType: JSON_TYPE, schema: run, says: 'it runs; ask for /replays/current until it no longer does' },
      handle: ({ body }) => {
        const started = replays.start(oneWorld(body));
        if ('busy' in started) throw new HttpProblem(409, `One replay runs at a time, and “${started.busy.name}” is on its way (${Math.floor(started.busy.ratio * 100)} %). Wait for it, or cancel it.`);
        if ('problems' in started) throw new HttpProblem(400, started.problems.join('\n'));
        return { json: started.run, status: 202 };
      },
    }),
    route({
      method: 'get', path: '/replays/current', tag: 'replays', summary: 'The newest replay and how far it is',
      answer: { status: 200, contentType: JSON_TYPE, schema: z.strictObject({ run: run.nullable() }), says: 'the run; null where none was asked for since the start of the program' },
      handle: () => ({ json: { run: replays.current() ?? null } }),
    }),
    route({
      method: 'get', path: '/replays/current/result', tag: 'replays', summary: 'What was true and what was found in the newest replay, simulated throughout', problems: [404],
      answer: { status: 200, contentType: JSON_TYPE, schema: result, says: 'truth, findings and days of each generator' },
      handle: () => {
        const known = replays.result();
        if (known === undefined) throw new HttpProblem(404, 'No replay is done. POST /api/v1/replays starts one.');
        return { json: known };
      },
    }),
    route({
      method: 'post', path: '/replays/cancel', tag: 'replays', summary: 'End the replay that is on its way', body: z.strictObject({ id: z.string().min(1).max(100) }), problems: [404],
      answer: { status: 200, contentType: JSON_TYPE, schema: run, says: 'the run as it is then' },
      handle: ({ body }) => {
        const ended = replays.cancel(body.id);
        if (ended === undefined) throw new HttpProblem(404, `${body.id} is not the newest replay.`);
        return { json: ended };
      },
    }),
  ];
}
