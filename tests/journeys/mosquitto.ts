import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, mkdirSync, writeFileSync } from 'node:fs';
import { connect as connectSocket } from 'node:net';
import { join } from 'node:path';
import { findProgram } from '../servers.mjs';
import { eventually, freePort } from './lull-process.ts';

/** A real broker with a persistent store, as a person would run it. */
export type Broker = { readonly url: string; readonly port: number; stop(): Promise<void> };

export async function startMosquitto(folder: string): Promise<Broker> {
  const program = findProgram('mosquitto');
  if (program === undefined) throw new Error('mosquitto is not on this machine');
  const port = await freePort();
  const home = join(folder, 'mosquitto');
  mkdirSync(home);
  // Started by root, mosquitto becomes its own user and must be able to write here.
  chmodSync(home, 0o777);
  const config = join(home, 'mosquitto.conf');
  writeFileSync(config, [`listener ${port} 127.0.0.1`, 'allow_anonymous true', 'persistence true', `persistence_location ${home}/`, 'max_queued_messages 1000000', ''].join('\n'));
  const child: ChildProcess = spawn(program, ['-c', config], { stdio: 'ignore' });
  await eventually('mosquitto', 10, () => canConnect(port));
  return {
    url: `mqtt://127.0.0.1:${port}`,
    port,
    async stop() {
      if (child.exitCode !== null) return;
      const ended = once(child, 'exit');
      child.kill('SIGTERM');
      await ended;
    },
  };
}

function canConnect(port: number): Promise<true | undefined> {
  return new Promise((resolve) => {
    const socket = connectSocket(port, '127.0.0.1');
    socket.once('connect', () => {
      socket.destroy();
      resolve(true);
    });
    socket.once('error', () => resolve(undefined));
  });
}
