import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { type Entry, entrySchema } from '../entry.ts';
import { CLOSING_REASONS, type FindingAction } from '../finding.ts';
import { isId, type GeneratorKey, parseGeneratorKey } from '../ids.ts';
import type { LogEvent } from '../log-event.ts';
import { parseRegistry, problemsOf, type Registry, siteSchema } from '../registry.ts';
import { msFromIso } from '../time.ts';
import { type JsonLine, type Problems, readJsonLines } from './lines.ts';

/** One line of `readings.ndjson`: a packet as it arrived, or as an export wrote it (`kept`). */
export type RecordedPacket = { readonly line: number; readonly topic: string; readonly payload: unknown; readonly atMs: number | undefined; readonly kept: boolean };

const READINGS_FILE = 'readings.ndjson';

/** Packets of a recording folder in order of arrival, about 64 KiB of lines at a time. Lines that aren't packets are problems. */
export async function* readPackets(folder: string, problems: Problems): AsyncGenerator<RecordedPacket[]> {
  const path = join(folder, READINGS_FILE);
  if (!existsSync(path)) {
    problems.add({ file: READINGS_FILE, line: 0, says: 'is missing' });
    return;
  }
  let lastText = '';
  let lastMs: number | undefined;
  for await (const lines of readJsonLines(path, READINGS_FILE, problems)) {
    const packets: RecordedPacket[] = [];
    for (const { line, value } of lines) {
      const { topic, payload, at, kept } = (value ?? {}) as { topic?: unknown; payload?: unknown; at?: unknown; kept?: unknown };
      let atMs: number | undefined;
      if (typeof at === 'string') {
        // Many packets arrive in the same second, and reading a time is dear.
        if (at !== lastText) {
          lastText = at;
          lastMs = timeOf(at);
        }
        atMs = lastMs;
      }
      if (typeof topic !== 'string' || payload === undefined) problems.add({ file: READINGS_FILE, line, says: 'must have a "topic" and a "payload"' });
      else if (at !== undefined && atMs === undefined) problems.add({ file: READINGS_FILE, line, says: '"at" must be an ISO 8601 time' });
      else packets.push({ line, topic, payload, atMs, kept: kept === true });
    }
    yield packets;
  }
}

/** ISO 8601 as we write it is read by the engine, anything else by the slower reader that knows all forms. */
function timeOf(text: string): number | undefined {
  if (/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,3})?Z$/.test(text)) {
    const ms = Date.parse(text);
    return Number.isNaN(ms) ? undefined : ms;
  }
  return msFromIso(text);
}

/** The registry of a recording (`sites.yaml` or `sites.json`); no sites where there is none. */
export async function readSites(folder: string, problems: Problems): Promise<Registry> {
  const file = ['sites.yaml', 'sites.json'].find((name) => existsSync(join(folder, name)));
  if (file === undefined) return { sites: [] };
  const parsed = parseRegistry(await readFile(join(folder, file), 'utf8'));
  if ('registry' in parsed) return parsed.registry;
  problems.add({ file, line: 0, says: 'is refused as a whole, and none of its sites is known. Put right what follows, and read the folder again.' });
  for (const { where, says } of parsed.problems) problems.add({ file, line: 0, says: `${where}: ${says}` });
  return { sites: [] };
}

/** What people logged (`visits.json`), in order of `recordedAt`. An entry that can't be read is a problem; the others stand. */
export async function readVisits(folder: string, problems: Problems): Promise<Entry[]> {
  const file = 'visits.json';
  if (!existsSync(join(folder, file))) return [];
  let raw: unknown;
  try {
    raw = JSON.parse(await readFile(join(folder, file), 'utf8'));
  } catch (error) {
    problems.add({ file, line: 0, says: `is no JSON: ${error instanceof Error ? error.message : String(error)}` });
    return [];
  }
  if (!Array.isArray(raw)) {
    problems.add({ file, line: 0, says: 'must be a list of entries' });
    return [];
  }
  const entries: Entry[] = [];
  for (const [index, one] of raw.entries()) {
    const parsed = entrySchema.safeParse(one);
    if (parsed.success) entries.push(parsed.data);
    else for (const { where, says } of problemsOf(parsed.error)) problems.add({ file, line: 0, says: `entry ${index + 1}, ${where}: ${says}` });
  }
  return entries.sort((a, b) => Date.parse(a.recordedAt) - Date.parse(b.recordedAt) || (a.id < b.id ? -1 : 1));
}

/** Kinds of event that replay passes over: they change nothing in the fold. */
const PASSED_OVER: ReadonlySet<unknown> = new Set(['settings', 'fleet', 'release']);

/** Events beside readings (`events.ndjson`), in order of time. `passedOver` counts those of kinds that replay has no use for. */
export async function readEvents(folder: string, problems: Problems): Promise<{ readonly events: readonly LogEvent[]; readonly passedOver: number }> {
  const file = 'events.ndjson';
  if (!existsSync(join(folder, file))) return { events: [], passedOver: 0 };
  const timed: { atMs: number; event: LogEvent }[] = [];
  let passedOver = 0;
  for await (const lines of readJsonLines(join(folder, file), file, problems)) {
    for (const line of lines) {
      const { at, kind } = (line.value ?? {}) as { at?: unknown; kind?: unknown };
      const atMs = typeof at === 'string' ? timeOf(at) : undefined;
      if (atMs === undefined) problems.add({ file, line: line.line, says: '"at" must be an ISO 8601 time' });
      else if (PASSED_OVER.has(kind)) passedOver += 1;
      else {
        const event = readEvent(line, atMs);
        if ('says' in event) problems.add({ file, line: line.line, says: event.says });
        else timed.push({ atMs, event });
      }
    }
  }
  return { events: timed.sort((a, b) => a.atMs - b.atMs).map(({ event }) => event), passedOver };
}

function readEvent({ value }: JsonLine, atMs: number): LogEvent | { readonly says: string } {
  const raw = value as Record<string, unknown>;
  switch (raw['kind']) {
    case 'registry': {
      const site = siteSchema.safeParse(raw['site']);
      if (!site.success) return { says: `site: ${problemsOf(site.error).map(({ where, says }) => `${where} ${says}`).join('; ')}` };
      const validFrom = typeof raw['validFrom'] === 'string' ? timeOf(raw['validFrom']) : undefined;
      return { kind: 'registry', atMs, change: { validFromMs: validFrom ?? atMs, recordedAtMs: atMs, by: textOr(raw['by'], 'recording'), site: site.data } };
    }
    case 'closing':
      return readClosing(raw, atMs);
    case 'quarantine': {
      const generator = parseGeneratorKey(textOr(raw['generator'], ''));
      const count = raw['count'];
      return generator === undefined || typeof count !== 'number' || !(count > 0) ? { says: 'a quarantine event must have "generator" (site/generator), "reason" and "count"' } : { kind: 'quarantine', atMs, generator, reason: textOr(raw['reason'], 'malformed'), count };
    }
    case 'presence': {
      const { site, gateway, online, generators = [] } = raw as { site?: unknown; gateway?: unknown; online?: unknown; generators?: unknown };
      if (typeof site !== 'string' || typeof gateway !== 'string' || typeof online !== 'boolean' || !Array.isArray(generators) || !generators.every((id) => typeof id === 'string' && isId(id))) return { says: 'a presence event must have "site", "gateway", "online" and "generators"' };
      return { kind: 'presence', event: { atMs, site, gateway, online, generators: generators.map((id: string) => `${site}/${id}` as GeneratorKey) } };
    }
    default:
      return { says: `kind ${JSON.stringify(raw['kind'])} is not known` };
  }
}

function readClosing(raw: Record<string, unknown>, atMs: number): LogEvent | { readonly says: string } {
  const { finding, by, action = 'close', reason, note } = raw;
  if (typeof finding !== 'string' || (action !== 'close' && action !== 'reopen')) return { says: 'a closing must have "finding", and "action" must be close or reopen' };
  const known = CLOSING_REASONS.find((one) => one === reason);
  const closing: FindingAction = { finding, atMs, by: textOr(by, 'recording'), action, ...(known === undefined ? {} : { reason: known }), ...(typeof note === 'string' ? { note } : {}) };
  return { kind: 'closing', atMs, action: closing };
}

function textOr(value: unknown, otherwise: string): string {
  return typeof value === 'string' ? value : otherwise;
}
