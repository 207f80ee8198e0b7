import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { createServer } from 'node:net';
import { fileURLToPath } from 'node:url';
import type { Status } from '../../shared/api.ts';

const PROGRAM = fileURLToPath(new URL('../../.build/dashboard/commands/main.js', import.meta.url));

export type Ended = { readonly code: number | null; readonly signal: NodeJS.Signals | null; readonly out: string; readonly said: string };
export type LullProcess = {
  readonly child: ChildProcess;
  /** What it wrote so far, both streams. */
  text(): string;
  readonly ended: Promise<Ended>;
};

/** Start the built program as a person would, with no setting of this machine's environment. */
export function startLull(args: readonly string[], folder: string, environment: Readonly<Record<string, string>> = {}): LullProcess {
  const clean = Object.fromEntries(Object.entries(process.env).filter(([name]) => !name.startsWith('LULL_')));
  const child = spawn(process.execPath, [PROGRAM, ...args], { cwd: folder, env: { ...clean, ...environment }, stdio: ['ignore', 'pipe', 'pipe'] });
  let out = '';
  let said = '';
  child.stdout.setEncoding('utf8').on('data', (text: string) => (out += text));
  child.stderr.setEncoding('utf8').on('data', (text: string) => (said += text));
  const ended = once(child, 'close').then(([code, signal]) => ({ code: code as number | null, signal: signal as NodeJS.Signals | null, out, said }));
  return { child, text: () => out + said, ended };
}

/** Run a command to its end. */
export async function runLull(args: readonly string[], folder: string, environment: Readonly<Record<string, string>> = {}): Promise<Ended> {
  return await startLull(args, folder, environment).ended;
}

/** Wait until `check` gives something; its last failure is told when time is up. */
export async function eventually<T>(what: string, seconds: number, check: () => Promise<T | undefined> | T | undefined): Promise<T> {
  const endMs = Date.now() + seconds * 1000;
  let failure: unknown;
  while (Date.now() < endMs) {
    try {
      const found = await check();
      if (found !== undefined) return found;
      failure = undefined;
    } catch (error) {
      failure = error;
    }
    await new Promise((resolve) => setTimeout(resolve, 150));
  }
  throw new Error(`${what} did not happen within ${seconds} s${failure instanceof Error ? `: ${failure.message}` : ''}`);
}

export async function getJson<T>(url: string): Promise<T> {
  const response = await fetch(url);
  if (!response.ok) throw new Error(`${url} answered ${response.status}: ${await response.text()}`);
  return (await response.json()) as T;
}

/** Wait until a server answers; its own words are shown when it ends before. */
export async function untilUp(lull: LullProcess, url: string, seconds: number): Promise<void> {
  const early = lull.ended.then((ended) => {
    throw new Error(`it ended with ${ended.code}: ${ended.said}`);
  });
  await Promise.race([early, eventually(`${url}/api/v1/status`, seconds, () => getJson<Status>(`${url}/api/v1/status`))]);
  // It may end later, and that is then looked at by who ends it.
  early.catch(() => undefined);
}

/** A port that was free just now. */
export async function freePort(): Promise<number> {
  const probe = createServer().listen(0, '127.0.0.1');
  await once(probe, 'listening');
  const address = probe.address();
  probe.close();
  await once(probe, 'close');
  if (address === null || typeof address === 'string') throw new Error('no port');
  return address.port;
}

