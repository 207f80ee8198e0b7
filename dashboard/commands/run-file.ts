import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';

const runSchema = z.object({
  pid: z.number().int().positive(),
  url: z.url(),
  mqttUrl: z.string(),
  startedAt: z.string(),
  simulated: z.boolean(),
  /** The certificate of the pages, where they come over HTTPS: commands then talk to no other. */
  cert: z.string().exactOptional(),
});
/** What a running server leaves in its data folder so that other commands find it. */
export type RunFile = z.infer<typeof runSchema>;

const NAME = 'run.json';

export function writeRunFile(dataFolder: string, run: RunFile): void {
  writeFileSync(join(dataFolder, NAME), `${JSON.stringify(run, null, 2)}\n`);
}

/** Remove the file if this process wrote it. */
export function removeRunFile(dataFolder: string, pid: number): void {
  if (readRunFile(dataFolder)?.pid === pid) rmSync(join(dataFolder, NAME), { force: true });
}

/** The server that runs on this data folder; `undefined` if there is none or its process has ended. */
export function findRunningServer(dataFolder: string): RunFile | undefined {
  const run = readRunFile(dataFolder);
  return run !== undefined && isAlive(run.pid) ? run : undefined;
}

function readRunFile(dataFolder: string): RunFile | undefined {
  try {
    return runSchema.parse(JSON.parse(readFileSync(join(dataFolder, NAME), 'utf8')));
  } catch {
    return undefined;
  }
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    // A process of another person can't be signalled but lives.
    return error instanceof Error && 'code' in error && error.code === 'EPERM';
  }
}
