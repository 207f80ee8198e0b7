import { createServer } from 'node:net';

/** How many ports after the wanted one are tried before we give up. */
const TRIES = 50;

/**
 * The first free port from `from` on. Another program may take it before we do; then the listener itself says so.
 * @throws {Error} if none of the next 50 is free.
 */
export async function nextFreePort(host: string, from: number, taken: ReadonlySet<number> = new Set()): Promise<number> {
  for (let port = from; port < Math.min(from + TRIES, 65_536); port += 1) if (!taken.has(port) && (await isFree(host, port))) return port;
  throw new Error(`none of the ports ${from} to ${from + TRIES - 1} on ${host} is free; name another with a flag`);
}

/** Whether a listener could be opened on this port just now. Port 0 always is. */
export function isFree(host: string, port: number): Promise<boolean> {
  return new Promise((resolve, reject) => {
    const probe = createServer();
    probe.once('error', (error: NodeJS.ErrnoException) => (error.code === 'EADDRINUSE' || error.code === 'EACCES' ? resolve(false) : reject(error)));
    probe.listen(port, host, () => probe.close(() => resolve(true)));
  });
}
