import { existsSync, readdirSync } from 'node:fs';
import { resolve } from 'node:path';
import { ConfigError } from '../../shared/errors.ts';
import { DAY_MS, isoFromMs, msFromIso } from '../../shared/time.ts';
import { DEMO_DAYS } from '../../simulator/demo-fleet.ts';
import { startPublisher } from '../../simulator/publish.ts';
import { randomScenario } from '../../simulator/random-worlds.ts';
import { startWorld, stepWorld, type World } from '../../simulator/world.ts';
import { writeRecording } from '../../simulator/write-recording.ts';
import { scaledClock } from './clock.ts';
import { type Context, defineCommand, numberOf, UsageError } from './command.ts';
import { newWorld } from './demo-world.ts';
import { logTo } from './log-lines.ts';

export const simulate = defineCommand({
  name: 'simulate',
  summary: 'write a recording of an invented fleet, or let it publish to a broker',
  options: {
    out: { type: 'string', value: 'FOLDER', says: 'write a recording: readings, sites, visits, and the truth' },
    publish: { type: 'string', value: 'URL', says: 'publish live to this broker until stopped' },
    days: { type: 'string', value: 'N', says: `days to simulate (default ${DEMO_DAYS}); with --publish the story has gone on for so long` },
    generators: { type: 'string', value: 'N', says: 'so many random generators instead of the demo\'s fleet, half of them with something wrong' },
    seed: { type: 'string', value: 'N', says: 'with --generators: which of all fleets of that size (default 1)' },
    end: { type: 'string', value: 'ISO', says: 'with --out: the end of the recording (default now)' },
    'time-scale': { type: 'string', value: 'N', says: 'with --publish: so many times as fast; the server needs the same clock' },
    user: { type: 'string', value: 'NAME', says: 'user at that broker' },
    password: { type: 'string', value: 'SECRET', says: 'password at that broker' },
  },
  example: 'npx --no-install lull simulate --out recordings/invented --days 30',
  async run(values, _given, context) {
    const days = numberOf('days', values.days, DEMO_DAYS, 1, 400);
    if ((values.out === undefined) === (values.publish === undefined)) throw new UsageError('give either --out FOLDER or --publish URL');
    const endMs = values.end === undefined ? context.clock.nowMs() : msFromIso(values.end);
    if (endMs === undefined) throw new UsageError(`--end must be a time in ISO 8601: current value is ${JSON.stringify(values.end)}`);
    const world = worldOf(days, endMs, values);
    if (values.out !== undefined) await writeOut(world, resolve(context.folder, values.out), endMs, context);
    else await publish(world, endMs, numberOf('time-scale', values['time-scale'], 1, 1, 3600), values.publish ?? '', { ...(values.user === undefined ? {} : { username: values.user }), ...(values.password === undefined ? {} : { password: values.password }) }, context);
  },
});

function worldOf(days: number, endMs: number, values: { readonly generators?: string; readonly seed?: string }): World {
  if (values.generators === undefined) {
    if (values.seed !== undefined) throw new UsageError('--seed goes with --generators; the demo\'s fleet is always the same');
    return newWorld(days, endMs);
  }
  const seed = numberOf('seed', values.seed, 1, 0, Number.MAX_SAFE_INTEGER);
  const startMs = endMs - days * DAY_MS;
  return startWorld({ scenario: randomScenario({ seed, generators: numberOf('generators', values.generators, 1, 1, 2000), days, startMs }), seed, startMs });
}

async function writeOut(world: World, folder: string, toMs: number, { terminal }: Context): Promise<void> {
  if (existsSync(folder) && readdirSync(folder).length > 0) throw new ConfigError(`${folder} is not empty; name a new folder`);
  const written = await writeRecording({ world, folder, toMs, onProgress: (share) => terminal.progress('simulating', share) });
  terminal.clearProgress();
  terminal.out(`${written.readings} simulated readings in ${written.packs} packets, ${written.visits} entries: ${folder}`);
}

async function publish(world: World, nowMs: number, timeScale: number, url: string, login: { readonly username?: string; readonly password?: string }, context: Context): Promise<void> {
  const stopping = context.stopSignal();
  // The story up to now is not published, it is only where the fleet is found.
  for (let atMs = world.nowMs; atMs < nowMs; atMs = world.nowMs) {
    if (stopping.aborted) return;
    stepWorld(world, Math.min(nowMs, atMs + DAY_MS));
    context.terminal.progress('simulating the past', (world.nowMs - world.startMs) / (nowMs - world.startMs));
    // Lets a signal through between two days.
    await new Promise((resolve) => setImmediate(resolve));
  }
  const clock = scaledClock(nowMs, timeScale, context.clock.nowMs());
  const publisher = startPublisher({ url, world, clock, timeScale, log: logTo(context.terminal, context.clock, false), ...login });
  if (timeScale > 1) context.terminal.out(`lull serve --clock ${isoFromMs(nowMs)}@${timeScale}`);
  context.terminal.say('publishing; Ctrl-C ends it');
  const told = setInterval(() => {
    const counts = publisher.counts();
    context.terminal.progress('publishing', undefined, `${counts.acknowledged} packets acknowledged, ${counts.waiting} waiting, ${counts.connected} gateways connected`);
  }, 1000);
  await new Promise<void>((done) => (stopping.aborted ? done() : stopping.addEventListener('abort', () => done(), { once: true })));
  clearInterval(told);
  await publisher.stop();
  const counts = publisher.counts();
  context.terminal.out(`${counts.acknowledged} packets acknowledged, ${counts.waiting + counts.dropped} not`);
}
