import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs';
import { dirname, resolve } from 'node:path';
import { ConfigError } from '../../shared/errors.ts';
import type { Cause } from '../../shared/finding.ts';
import { DAY_MS, isoFromMs, msFromIso } from '../../shared/time.ts';
import { DEMO_DAYS } from '../../simulator/demo-fleet.ts';
import { FAULTS } from '../../simulator/faults/table.ts';
import { startPublisher } from '../../simulator/publish.ts';
import { randomScenario } from '../../simulator/random-worlds.ts';
import { parseScenarioFile, type ScenarioFile } from '../../simulator/scenario-file.ts';
import { scenarioOfFile } from '../../simulator/scenario-of-file.ts';
import { startWorld, stepWorld, type World } from '../../simulator/world.ts';
import { writeRecording } from '../../simulator/write-recording.ts';
import { scaledClock } from './clock.ts';
import { type Context, defineCommand, numberOf, UsageError, wholeNumberOf } from './command.ts';
import { newWorld } from './demo-world.ts';
import { logTo } from './log-lines.ts';

const CAUSES = FAULTS.map((kind) => kind.cause);
/** Where a recording of a scenario or of random generators starts unless told: a fixed day, so that the same seed gives the same bytes. */
const FIRST_MS = Date.UTC(2026, 0, 5);
const RANDOM_DAYS = 120;
const SEED = 7;
const BROKER_URL = /^(mqtts?|wss?):\/\/[^/]/;

export const simulate = defineCommand({
  name: 'simulate',
  summary: 'write a recording of an invented fleet, or let it publish to a broker',
  options: {
    out: { type: 'string', value: 'FOLDER', says: 'write a recording: readings, sites, visits, and the truth' },
    publish: { type: 'string', value: 'URL', says: 'publish live to this broker until stopped' },
    scenario: { type: 'string', value: 'FILE', says: 'the world that this file describes (see simulator/scenarios); else the fleet of the demo' },
    generators: { type: 'string', value: 'N', says: 'so many random generators, about half of them with something wrong' },
    faults: { type: 'string', value: 'LIST', says: 'with --generators: all, none, or causes such as leak,drain-stuck-open, of which each then has one' },
    seed: { type: 'string', value: 'N', says: `the dice; the same seed gives the same bytes (default ${SEED})` },
    days: { type: 'string', value: 'N', says: `days to simulate (default ${RANDOM_DAYS}, the file's, or ${DEMO_DAYS} of the demo); with --publish the story has gone on for so long` },
    end: { type: 'string', value: 'ISO', says: 'with --out: the end of the recording (default: of the demo now, else so that it starts 2026-01-05)' },
    'time-scale': { type: 'string', value: 'N', says: 'with --publish: so many times as fast; the server needs the same clock' },
    user: { type: 'string', value: 'NAME', says: 'user at that broker' },
    password: { type: 'string', value: 'SECRET', says: 'password at that broker' },
  },
  example: 'npx --no-install lull simulate --out recordings/invented --generators 20 --days 90 --seed 4',
  async run(values, _given, context) {
    if ((values.out === undefined) === (values.publish === undefined)) throw new UsageError('give either --out FOLDER or --publish URL');
    if (values.scenario !== undefined && values.generators !== undefined) throw new UsageError('give either --scenario FILE or --generators N');
    if (values.faults !== undefined && values.generators === undefined) throw new UsageError('--faults goes with --generators N');
    if (values.publish !== undefined && !BROKER_URL.test(values.publish)) throw new UsageError(`--publish must be the address of a broker, such as mqtt://127.0.0.1:1883: current value is ${JSON.stringify(values.publish)}`);
    const world = worldOf(values, context);
    const endMs = world.endMs;
    if (values.out !== undefined) await writeOut(world.world, resolve(context.folder, values.out), endMs, values.scenario !== undefined || values.generators !== undefined, context);
    else await publish(world.world, endMs, numberOf('time-scale', values['time-scale'], 1, 1, 3600), values.publish ?? '', { ...(values.user === undefined ? {} : { username: values.user }), ...(values.password === undefined ? {} : { password: values.password }) }, context);
  },
});

type Asked = { readonly out?: string; readonly scenario?: string; readonly generators?: string; readonly faults?: string; readonly seed?: string; readonly days?: string; readonly end?: string };

/** The world that was asked for, and the moment up to which its story is to be told. */
function worldOf(values: Asked, context: Context): { readonly world: World; readonly endMs: number } {
  const seed = wholeNumberOf('seed', values.seed, SEED, 0, 2 ** 31 - 1);
  const file = values.scenario === undefined ? undefined : readScenario(resolve(context.folder, values.scenario));
  const own = file !== undefined || values.generators !== undefined;
  const days = numberOf('days', values.days, file?.days ?? (own ? RANDOM_DAYS : DEMO_DAYS), 1, 1000);
  const given = values.end === undefined ? undefined : msFromIso(values.end);
  if (values.end !== undefined && given === undefined) throw new UsageError(`--end must be a time in ISO 8601: current value is ${JSON.stringify(values.end)}`);
  const endMs = given ?? (own && values.out !== undefined ? FIRST_MS + days * DAY_MS : context.clock.nowMs());
  const startMs = endMs - days * DAY_MS;
  if (file !== undefined) return { world: startWorld({ scenario: scenarioOfFile(file, startMs), seed, startMs }), endMs };
  if (values.generators !== undefined) {
    const scenario = randomScenario({ seed, generators: wholeNumberOf('generators', values.generators, 20, 1, 5000), days, startMs, ...faultsOf(values.faults) });
    return { world: startWorld({ scenario, seed, startMs }), endMs };
  }
  const demo = newWorld(days, endMs);
  return { world: seed === demo.seed ? demo : startWorld({ scenario: demo.scenario, seed, startMs }), endMs };
}

function readScenario(path: string): ScenarioFile {
  let text: string;
  if (!existsSync(path)) throw new ConfigError(`there is no scenario file ${path}; examples are in simulator/scenarios`);
  if (statSync(path).isDirectory()) throw new ConfigError(`${path} is a folder; name a scenario file in it`);
  try {
    text = readFileSync(path, 'utf8');
  } catch (error) {
    throw new ConfigError(`${path} can't be read: ${error instanceof Error ? error.message : String(error)}`);
  }
  const parsed = parseScenarioFile(text);
  if ('problems' in parsed) throw new ConfigError([`${path} describes no world:`, ...parsed.problems.map((one) => `  ${one.where}: ${one.says}`)].join('\n'));
  return parsed.file;
}

function faultsOf(text: string | undefined): { readonly faultyShare?: number; readonly causes?: readonly Cause[] } {
  if (text === undefined || text === 'all') return {};
  if (text === 'none') return { faultyShare: 0 };
  const causes = text.split(',').map((name) => {
    const cause = CAUSES.find((one) => one === name.trim());
    if (cause === undefined) throw new UsageError(`--faults must be all, none, or some of ${CAUSES.join(', ')}: current value is ${JSON.stringify(name)}`);
    return cause;
  });
  return { faultyShare: 1, causes };
}

/** @throws {ConfigError} if a recording can't be written there without mixing with, or breaking, what is there. */
function refuseFolder(folder: string): void {
  let there = folder;
  while (!existsSync(there)) there = dirname(there);
  if (!statSync(there).isDirectory()) throw new ConfigError(`${there} is a file; name a new folder`);
  if (there === folder && readdirSync(folder).length > 0) throw new ConfigError(`${folder} is not empty; name a new folder`);
}

async function writeOut(world: World, folder: string, toMs: number, branches: boolean, { terminal, stopSignal }: Context): Promise<void> {
  refuseFolder(folder);
  const stopping = stopSignal();
  const onProgress = (share: number): void => {
    if (stopping.aborted) throw new Error(`stopped; ${folder} holds a part of the recording: delete it, or name another folder`);
    terminal.progress('simulating', share);
  };
  const written = await writeRecording({ world, folder, toMs, branches, onProgress });
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
