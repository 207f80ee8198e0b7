import { z } from 'zod';
import { analysisSettingsSchema } from '../../shared/analysis-settings.ts';
import { CAUSES } from '../../shared/finding.ts';
import { MOST_REPLAY_DAYS, MOST_REPLAY_GENERATORS, MOST_SCENARIO_TEXT, type ReplayInput } from '../../shared/world-replay.ts';
import { HttpProblem } from './problem.ts';
import type { ReplaySurface } from './replay-surface.ts';
import { type Route, route } from './route.ts';

const cause = z.enum(CAUSES);
const at = z.iso.datetime();
const seed = z.number().int().min(0).max(2 ** 31 - 1);
// The same bounds as in the file of settings; there the prices too.
const settings = analysisSettingsSchema.pick({ falseFindingsPerYear: true, baselineDays: true, smallestChange: true, horizonDays: true });
const history = z.strictObject({ generators: z.array(z.string().max(200)).min(1).max(1000).describe(`site/generator, at most ${MOST_REPLAY_GENERATORS}`), fromAt: at, toAt: at.describe(`by receipt, not included; at most ${MOST_REPLAY_DAYS} days later`) });
const laidOver = z.strictObject({ cause, variant: z.string().max(60).optional(), severity: z.enum(['barely', 'plain', 'marked', 'urgent']), onsetAt: at, shape: z.enum(['step', 'ramp', 'comes-and-goes']), growDays: z.number().positive().max(1000).optional().describe('with the shape ramp'), channel: z.string().max(100).optional().describe('with sensor-fault: which one lies') });
// The greatest numbers are refused by whoever knows why; here only what is no number of generators at all.
const asked = z.strictObject({
  scenario: z.string().min(1).max(200).optional().describe('name of a file of /replays/scenarios'),
  text: z.string().min(1).max(MOST_SCENARIO_TEXT).optional().describe('a scenario as YAML'),
  seed: seed.optional().describe('of random generators: an odd one'),
  generators: z.number().int().min(1).max(5000).optional().describe(`random ones, at most ${MOST_REPLAY_GENERATORS}`),
  days: z.number().int().min(1).max(1000).optional().describe(`of random generators, at most ${MOST_REPLAY_DAYS}`),
  history: history.optional().describe('a stretch of what was received here'),
  fault: laidOver.optional().describe('with history: rebuild it from its stored days, with this fault laid over it; never scored'),
  settings: settings.optional().describe('of the analysis; those of the program when left out'),
  other: settings.optional().describe('fold the same input once more with these, to compare'),
});

/** Exactly one of the kinds of input. @throws {HttpProblem} 400 for none or a mixture. */
function oneInput({ scenario, text, seed: dice, generators, days, history: stretch, fault }: z.output<typeof asked>): ReplayInput {
  const named = [scenario, text, generators ?? days, stretch].filter((one) => one !== undefined).length;
  if (named === 1 && (fault === undefined || stretch !== undefined) && (dice === undefined || stretch === undefined)) {
    if (scenario !== undefined) return { scenario, seed: dice };
    if (text !== undefined) return { text, seed: dice };
    if (stretch !== undefined) return { history: stretch, fault };
    if (dice !== undefined && generators !== undefined && days !== undefined) return { seed: dice, generators, days };
  }
  throw new HttpProblem(400, 'Give either scenario (the name of a file), or text (a scenario), or seed, generators and days, or history with or without a fault.');
}
const KINDS = z.enum(['simulated', 'history', 'rebuilt']);
const run = z.strictObject({ id: z.string(), kind: KINDS, name: z.string(), generators: z.number(), days: z.number(), seed: z.number().nullable(), state: z.enum(['running', 'done', 'failed', 'cancelled']), doing: z.enum(['writing', 'folding', 'folding-other']), ratio: z.number(), startedAt: at, endedAt: at.nullable(), problem: z.string().nullable() });
const choices = z.strictObject({
  scenarios: z.array(z.strictObject({ file: z.string(), name: z.string(), generators: z.number(), days: z.number(), text: z.string() })),
  history: z.array(z.strictObject({ site: z.string(), siteName: z.string(), generator: z.string(), generatorName: z.string(), zone: z.string(), firstAt: at, lastAt: at })),
  faults: z.array(z.strictObject({ cause, variants: z.array(z.strictObject({ name: z.string(), measure: z.string(), severities: z.array(z.strictObject({ severity: z.string(), says: z.string() })) })) })),
  settings, settingsHash: z.string(), most: z.strictObject({ generators: z.number(), days: z.number(), textLength: z.number() }),
});
const fault = z.strictObject({ cause, severity: z.string(), onset: at, end: at.nullable(), outcome: z.enum(['found', 'missed', 'unknowable', 'young', 'behind-another', 'laid-over']), causeRight: z.boolean().nullable(), said: cause.nullable(), delayH: z.number().nullable() });
const finding = z.strictObject({ openedAt: at, closedAt: at.nullable(), cause, among: z.array(cause).nullable(), probability: z.number(), outcome: z.enum(['right', 'family', 'excused', 'late', 'false', 'unjudged']), because: z.array(z.string()) });
const rate = z.strictObject({ low: z.number(), high: z.number(), value: z.number() });
const side = z.strictObject({
  settings, hash: z.string().describe('of the analysis settings'),
  summary: z.strictObject({ generatorYears: z.number(), faults: z.number(), found: z.number(), missed: z.number(), apart: z.number(), causeRight: z.number(), delayMedianH: z.number().nullable(), falseFindings: z.number(), falsePerYear: rate }).nullable().describe('null for history and what is rebuilt from it: never scored'),
  generators: z.array(z.strictObject({
    site: z.string(), generator: z.string(), zone: z.string(), channels: z.array(z.string()), days: z.array(z.strictObject({ day: z.string(), runS: z.number().nullable(), restS: z.number().nullable() })),
    faults: z.array(fault), upsets: z.array(z.strictObject({ kind: z.string(), from: at, to: at })), visits: z.array(z.iso.datetime({ offset: true })), findings: z.array(finding),
  })),
});
const result = z.strictObject({
  id: z.string(), kind: KINDS, name: z.string(), seed: z.number().nullable(), days: z.number(), fromAt: at, untilAt: at, readings: z.number(), refused: z.number().describe('readings that the decoder refused'),
  first: side, other: side.nullable(), measures: z.array(z.strictObject({ measure: z.string(), a: z.number().nullable(), b: z.number().nullable(), better: z.enum(['a', 'b']).nullable() })),
});
const campaign = z.strictObject({
  id: z.string(), says: z.string(), purpose: z.enum(['tuning', 'reporting']), at, version: z.string(), generators: z.number(), days: z.number(),
  points: z.array(z.strictObject({
    settings, hash: z.string(), generatorYears: z.number(), faults: z.number(), found: z.number(), missed: z.number(), causeRight: z.number(), delayMedianH: z.number().nullable(), falseFindings: z.number(), falsePerYear: rate,
    bySeverity: z.array(z.strictObject({ severity: z.string(), faults: z.number(), found: z.number(), missed: z.number() })),
  })),
});
const JSON_TYPE = 'application/json';

/** Replays for the engineer's page. They leave nothing in the stores, so nobody's name is asked for and no audit is written. */
export function replayRoutes(replays: ReplaySurface | undefined): Route[] {
  if (replays === undefined) return [];
  return [
    route({
      method: 'get', path: '/replays/scenarios', tag: 'replays', summary: 'What can be replayed: scenario files of the program, generators with a history, faults, settings',
      answer: { status: 200, contentType: JSON_TYPE, schema: choices, says: 'the files with their text, who has a history since when, the faults of the simulator, the settings of the program, and the limits of a run' },
      handle: async () => ({ json: await replays.choices() }),
    }),
    route({
      method: 'post', path: '/replays', tag: 'replays', summary: `Fold an invented world, or history, in memory, with chosen settings; at most ${MOST_REPLAY_GENERATORS} generators and ${MOST_REPLAY_DAYS} days, one at a time`, body: asked, problems: [409],
      answer: { status: 202, contentType: JSON_TYPE, schema: run, says: 'it runs; ask for /replays/current until it no longer does' },
      handle: async ({ body }) => {
        const started = await replays.start({ ...oneInput(body), settings: body.settings, other: body.other });
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
      method: 'get', path: '/replays/current/result', tag: 'replays', summary: 'What was true, where that is known, and what was found in the newest replay', problems: [404],
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
    route({
      method: 'get', path: '/replays/campaigns', tag: 'replays', summary: 'Campaigns that the score command has kept: what was found, at what price in false findings, for each choice of settings',
      answer: { status: 200, contentType: JSON_TYPE, schema: z.strictObject({ campaigns: z.array(campaign) }), says: 'the campaigns, newest first' },
      handle: () => ({ json: { campaigns: replays.campaigns() } }),
    }),
  ];
}
