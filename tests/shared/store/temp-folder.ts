import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** A folder that is gone after `remove()`. */
export async function tempFolder(): Promise<{ readonly path: string; readonly remove: () => Promise<void> }> {
  const path = await mkdtemp(join(tmpdir(), 'lull-store-'));
  return { path, remove: () => rm(path, { recursive: true, force: true }) };
}
