#!/usr/bin/env node
import { type Command, type Context, UsageError } from './command.ts';
import { wallClock } from './clock.ts';
import { nearestName } from './nearest-name.ts';
import { terminalOn } from './terminal.ts';

/** Every command, loaded when it is called, so that `rank` doesn't wait for a store that it may not open. */
const COMMANDS: Readonly<Record<string, () => Promise<Command>>> = {
  serve: async () => (await import('./serve.ts')).serve,
  demo: async () => (await import('./demo.ts')).demo,
  simulate: async () => (await import('./simulate.ts')).simulate,
  import: async () => (await import('./import.ts')).importRecording,
  export: async () => (await import('./export.ts')).exportRecording,
  replay: async () => (await import('./replay.ts')).replay,
  score: async () => (await import('./score.ts')).score,
  rank: async () => (await import('./rank.ts')).rank,
  findings: async () => (await import('./findings.ts')).findings,
  visit: async () => (await import('./visit.ts')).visit,
  quarantine: async () => (await import('./quarantine.ts')).quarantine,
  'check-config': async () => (await import('./check-config.ts')).checkConfig,
  gateway: async () => (await import('./gateway.ts')).gateway,
  doctor: async () => (await import('./doctor.ts')).doctor,
};

/** How long something that was left open may keep the process alive after its work, ms. */
const LINGER_MS = 1000;
const EXIT = { done: 0, failed: 1, wrongUse: 2, interrupted: 130 } as const;

async function run(argv: readonly string[], context: Context): Promise<number> {
  const [name, ...rest] = argv;
  if (name === undefined || name === '--help' || name === '-h' || name === 'help') {
    context.terminal.out(await overview());
    return name === undefined ? EXIT.wrongUse : EXIT.done;
  }
  const load = Object.hasOwn(COMMANDS, name) ? COMMANDS[name] : undefined;
  if (load === undefined) {
    const near = nearestName(name, Object.keys(COMMANDS));
    throw new UsageError(`there is no command "${name}"${near === undefined ? '' : `; did you mean "${near}"?`}`);
  }
  const command = await load();
  const endOfFlags = rest.indexOf('--');
  if ((endOfFlags < 0 ? rest : rest.slice(0, endOfFlags)).some((word) => word === '--help' || word === '-h')) {
    context.terminal.out(command.help);
    return EXIT.done;
  }
  await command.run(rest, context);
  return EXIT.done;
}

async function overview(): Promise<string> {
  const commands = await Promise.all(Object.values(COMMANDS).map((load) => load()));
  const width = Math.max(...commands.map((command) => command.name.length));
  return ['lull COMMAND [options]', '', 'Watches nitrogen generators: which compressor runs more than it did, why, by when it needs service, and whether the visit helped.', '', ...commands.map((command) => `  ${command.name.padEnd(width)}  ${command.summary}`), '', 'lull COMMAND --help says more about each. Settings come from LULL_* and lull.yaml; lull check-config shows them.'].join('\n');
}

/** One line that says what is wrong; the stack and the causes only for who asked for them. */
function explain(error: unknown, debug: boolean): string {
  if (!(error instanceof Error)) return `lull: ${String(error)}`;
  const lines = [`lull: ${error.message}`];
  if (debug) for (let cause: unknown = error; cause instanceof Error; cause = cause.cause) lines.push(cause.stack ?? cause.message);
  return lines.join('\n');
}

/** The first signal asks the command to end, the second ends the process. */
function stopSignalOf(): () => AbortSignal {
  let controller: AbortController | undefined;
  return () => {
    if (controller !== undefined) return controller.signal;
    const created = new AbortController();
    controller = created;
    for (const name of ['SIGINT', 'SIGTERM'] as const) {
      process.on(name, () => {
        if (created.signal.aborted) process.exit(EXIT.interrupted);
        created.abort();
      });
    }
    return created.signal;
  };
}

const clock = wallClock();
const terminal = terminalOn(process.stdout, process.stderr, () => clock.nowMs());
// A reader that has seen enough (`lull rank | head`) closes the pipe; that is no failure of ours.
process.stdout.on('error', (error: NodeJS.ErrnoException) => process.exit(error.code === 'EPIPE' ? EXIT.done : EXIT.failed));
const context: Context = { environment: process.env, folder: process.cwd(), clock, random: Math.random, terminal, stopSignal: stopSignalOf() };
try {
  process.exitCode = await run(process.argv.slice(2), context);
} catch (error) {
  terminal.clearProgress();
  terminal.say(explain(error, (process.env['LULL_DEBUG'] ?? '') !== ''));
  const command = process.argv[2] ?? '';
  if (error instanceof UsageError) terminal.say(`see lull ${Object.hasOwn(COMMANDS, command) ? `${command} ` : ''}--help`);
  process.exitCode = error instanceof UsageError ? EXIT.wrongUse : EXIT.failed;
}
// Everything is closed by now; what a library still holds open must not keep the program from ending.
setTimeout(() => process.exit(), LINGER_MS).unref();
