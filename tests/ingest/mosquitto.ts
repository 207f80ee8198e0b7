import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, connect as connectTcp, type AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';

/** `pause` ends the process and keeps its folder, `start` begins it again; `stop` is for good. */
export type Mosquitto = { readonly port: number; readonly url: string; pause(): Promise<void>; start(): Promise<void>; stop(): Promise<void> };

export async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as AddressInfo;
  await new Promise((resolve) => server.close(resolve));
  return port;
}

/** Debian's mosquitto on a free port in a folder of its own. The queue is made long, as the README tells people to. */
export async function startMosquitto(extra: readonly string[] = [], anonymous = true): Promise<Mosquitto> {
  const folder = mkdtempSync(join(tmpdir(), 'lull-mosquitto-'));
  // Started as root, mosquitto becomes its own user, which must reach the folder.
  chmodSync(folder, 0o777);
  const port = await freePort();
  const config = join(folder, 'mosquitto.conf');
  writeFileSync(config, [`listener ${port} 127.0.0.1`, `allow_anonymous ${anonymous}`, 'max_queued_messages 1000000', 'max_inflight_messages 1000', 'set_tcp_nodelay true', 'persistence true', `persistence_location ${folder}/`, 'log_dest stderr', ...extra, ''].join('\n'));
  let child: ChildProcess | undefined;
  const start = async (): Promise<void> => {
    child = spawn('/usr/sbin/mosquitto', ['-c', config], { stdio: 'ignore' });
    for (let attempt = 0; !(await answers(port)); attempt += 1) {
      if (attempt > 100 || child.exitCode !== null) throw new Error('mosquitto did not start');
      await sleep(50);
    }
  };
  const pause = async (): Promise<void> => {
    if (child === undefined || child.exitCode !== null) return;
    const gone = once(child, 'exit');
    child.kill('SIGTERM');
    await gone;
  };
  await start();
  return {
    port,
    url: `mqtt://127.0.0.1:${port}`,
    start,
    pause,
    async stop() {
      await pause();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

function answers(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connectTcp(port, '127.0.0.1', () => {
      socket.destroy();
      resolve(true);
    });
    socket.on('error', () => resolve(false));
  });
}

/** Wait until `condition` holds. @throws {Error} after `withinMs`. */
export async function until(condition: () => boolean | Promise<boolean>, withinMs = 20_000, what = condition.toString()): Promise<void> {
  const end = performance.now() + withinMs;
  while (!(await condition())) {
    if (performance.now() > end) throw new Error(`did not come true within ${withinMs} ms: ${what}`);
    await sleep(20);
  }
}
