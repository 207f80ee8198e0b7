import { connect, createServer, type Socket } from 'node:net';

/** A line to a server that can be cut and joined again: what a browser's own "offline" leaves alone, its service workers, feels it too. */
export type CutLine = { readonly url: string; cut(): void; join(): void; stop(): Promise<void> };

export async function cutLine(port: number): Promise<CutLine> {
  const open = new Set<Socket>();
  let whole = true;
  const server = createServer((near) => {
    if (!whole) {
      near.destroy();
      return;
    }
    const far = connect(port, '127.0.0.1');
    for (const [from, to] of [[near, far], [far, near]] as const) {
      open.add(from);
      from.on('error', () => to.destroy());
      from.on('close', () => {
        open.delete(from);
        to.destroy();
      });
      from.pipe(to);
    }
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = server.address();
  if (address === null || typeof address === 'string') throw new Error('no port');
  const end = (): void => {
    for (const socket of open) socket.destroy();
  };
  return {
    url: `http://127.0.0.1:${address.port}`,
    cut() {
      whole = false;
      end();
    },
    join() {
      whole = true;
    },
    async stop() {
      end();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}
