import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { writeFileSync } from 'node:fs';
import { createServer, type AddressInfo } from 'node:net';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { findProgram } from '../../servers.mjs';
import { tempFolder } from './temp-folder.ts';

/** A real server. `pause` ends the process and keeps its folder, `start` begins it again; `freeze` and `thaw` stop it without ending it. */
export type Influxd = { readonly url: string; readonly folder: string; start(): Promise<void>; pause(signal?: NodeJS.Signals): Promise<void>; freeze(): void; thaw(): void; stop(): Promise<void>; ask(question: string): Promise<unknown> };

/** Debian's influxd on free ports in a folder of its own, with what the test wants in its `[http]` section. */
export async function startInfluxd(http: readonly string[] = []): Promise<Influxd> {
  const program = findProgram('influxd');
  if (program === undefined) throw new Error('influxd is not on this machine');
  const folder = await tempFolder();
  const [port, backupPort] = [await freePort(), await freePort()];
  const url = `http://127.0.0.1:${port}`;
  const config = join(folder.path, 'influxdb.conf');
  const inFolder = (name: string): string => JSON.stringify(join(folder.path, name));
  writeFileSync(config, ['reporting-disabled = true', `bind-address = "127.0.0.1:${backupPort}"`, '[meta]', `dir = ${inFolder('meta')}`, '[data]', `dir = ${inFolder('data')}`, `wal-dir = ${inFolder('wal')}`, 'query-log-enabled = false', '[monitor]', 'store-enabled = false', '[http]', `bind-address = "127.0.0.1:${port}"`, 'log-enabled = false', ...http, ''].join('\n'));
  let child: ChildProcess | undefined;
  const start = async (): Promise<void> => {
    child = spawn(program, ['run', '-config', config], { stdio: 'ignore' });
    for (let attempt = 0; !(await answers(url)); attempt += 1) {
      if (attempt > 200 || child.exitCode !== null) throw new Error('influxd did not start');
      await sleep(50);
    }
  };
  const pause = async (signal: NodeJS.Signals = 'SIGTERM'): Promise<void> => {
    if (child === undefined || child.exitCode !== null || child.signalCode !== null) return;
    const gone = once(child, 'exit');
    child.kill('SIGCONT');
    child.kill(signal);
    await gone;
  };
  await start();
  return {
    url,
    folder: folder.path,
    start,
    pause,
    freeze: () => void child?.kill('SIGSTOP'),
    thaw: () => void child?.kill('SIGCONT'),
    async stop() {
      await pause('SIGKILL');
      await folder.remove();
    },
    async ask(question) {
      const response = await fetch(`${url}/query`, { method: 'POST', body: new URLSearchParams({ q: question, epoch: 'ms' }) });
      return response.json();
    },
  };
}

async function answers(url: string): Promise<boolean> {
  return fetch(`${url}/ping`).then((response) => response.status === 204, () => false);
}

export async function freePort(): Promise<number> {
  const probe = createServer();
  await new Promise<void>((resolve) => probe.listen(0, '127.0.0.1', resolve));
  const { port } = probe.address() as AddressInfo;
  await new Promise((resolve) => probe.close(resolve));
  return port;
}
