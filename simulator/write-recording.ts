import { createWriteStream, type WriteStream } from 'node:fs';
import { mkdir, writeFile } from 'node:fs/promises';
import { once } from 'node:events';
import { join } from 'node:path';
import { finished } from 'node:stream/promises';
import type { GatewayId, GeneratorKey } from '../shared/ids.ts';
import { splitGeneratorKey } from '../shared/ids.ts';
import type { PresenceEvent } from '../shared/log-event.ts';
import { DAY_MS, isoFromMs } from '../shared/time.ts';
import { presenceTopic } from '../shared/topics.ts';
import { type Branch, BRANCH_EVERY_DAYS, branchWorld } from './branches.ts';
import { messagesOf } from './packs.ts';
import { worldEntries, worldPresence } from './story-times.ts';
import { worldTruth } from './truth.ts';
import { stepWorld, type World } from './world.ts';

export type WrittenRecording = { readonly packs: number; readonly readings: number; readonly presence: number; readonly visits: number };

/**
 * Live a world until `toMs` and write it as a recording folder: `readings.ndjson` as gateways would have sent it (SenML, in
 * order of arrival, presence included), `sites.json`, `visits.json` and `truth.json`. A day is held in memory at a time.
 * @throws {Error} of the file system where the folder can't be written.
 */
export async function writeRecording(params: { readonly world: World; readonly folder: string; readonly toMs: number; /** Branch the world every 30 days, for the truth about forecasts; takes about 50 ms a generator and branch. */ readonly branches?: boolean; readonly onProgress?: (share: number) => void }): Promise<WrittenRecording> {
  const { world, folder, toMs, onProgress } = params;
  await mkdir(folder, { recursive: true });
  const fromMs = world.nowMs;
  const stream = createWriteStream(join(folder, 'readings.ndjson'));
  const branches: Branch[] = [];
  const count = { packs: 0, readings: 0, presence: 0 };
  while (world.nowMs < toMs) {
    const before = world.nowMs === world.startMs ? -Infinity : world.nowMs;
    const batch = stepWorld(world, Math.min(toMs, world.nowMs + DAY_MS));
    const presence = worldPresence(world, before, world.nowMs);
    count.readings += batch.atMs.length;
    count.presence += presence.length;
    let next = 0;
    let lines = '';
    for (const message of messagesOf(batch)) {
      for (; next < presence.length && presence[next]!.atMs <= message.atMs; next += 1) lines += presenceLine(presence[next]!);
      lines += `${JSON.stringify({ topic: message.topic, payload: message.payload, at: isoFromMs(message.atMs) })}\n`;
      count.packs += 1;
    }
    for (; next < presence.length; next += 1) lines += presenceLine(presence[next]!);
    await write(stream, lines);
    if (params.branches === true && isBranchDay(world)) branches.push(...branchWorld(world));
    onProgress?.((world.nowMs - fromMs) / (toMs - fromMs));
  }
  stream.end();
  await finished(stream);
  const visits = worldEntries(world);
  await writeFile(join(folder, 'sites.json'), `${JSON.stringify(world.scenario.registry, undefined, 1)}\n`);
  await writeFile(join(folder, 'visits.json'), `${JSON.stringify(visits, undefined, 1)}\n`);
  await writeFile(join(folder, 'truth.json'), `${JSON.stringify(worldTruth(world, branches), undefined, 1)}\n`);
  return { ...count, visits: visits.length };
}

/** Whole months of 30 days since the start, the start itself left out: there is nothing to judge yet. */
function isBranchDay(world: World): boolean {
  const sinceMs = world.nowMs - world.startMs;
  return sinceMs > 0 && sinceMs % (BRANCH_EVERY_DAYS * DAY_MS) === 0;
}

async function write(stream: WriteStream, text: string): Promise<void> {
  if (text !== '' && !stream.write(text)) await once(stream, 'drain');
}

function presenceLine(event: PresenceEvent): string {
  const generators = event.generators.map((key) => splitGeneratorKey(key).generator);
  return `${JSON.stringify({ topic: presenceTopic(`${event.site}/` as GeneratorKey, event.gateway as GatewayId), payload: { online: event.online, generators }, at: isoFromMs(event.atMs) })}\n`;
}
