import type { GeneratorKey } from '../shared/ids.ts';
import type { LogEvent } from '../shared/log-event.ts';
import { generatorsOf, type RegisteredGenerator, type SiteRecord } from '../shared/registry.ts';
import { collectProblems, type Problems } from '../shared/recording/lines.ts';
import { readEvents, readPackets, readSites, readVisits } from '../shared/recording/read-recording.ts';
import { parseTopic, type Topic } from '../shared/topics.ts';
import type { RegistryLookup } from './accept.ts';
import { createReader, type ImportCounts, type ImportParams } from './recording-reader.ts';

/** `counts` and `problems` are complete when `events` has ended. */
export type RecordingImport = { readonly events: AsyncIterable<LogEvent>; readonly counts: ImportCounts; readonly problems: Problems };

/** Rows in one batch; enough that handing it over costs nothing, little enough that memory stays flat. */
const ROWS_PER_BATCH = 20_000;

/**
 * Read a recording folder as the log that analysis folds: every packet through the same decoder and the same judgement
 * as a live one (except that old times are welcome), in order of receipt. A line without `at` was received when the
 * newest device time so far says. Values that an export of ours wrote are taken as they are.
 */
export function importRecording(params: ImportParams): RecordingImport {
  const counts: ImportCounts = { packets: 0, readings: 0, presence: 0, entries: 0, registryChanges: 0, closings: 0, passedOver: 0, refused: new Map() };
  const problems = collectProblems();
  return { events: readLog(params, counts, problems), counts, problems };
}

async function* readLog(params: ImportParams, counts: ImportCounts, problems: Problems): AsyncGenerator<LogEvent> {
  const sites = createSites(params);
  const others = await otherEvents(params, counts, problems, sites);
  const reader = createReader(params, counts, sites.lookup);
  const topicOf = topicBook();
  let nextOther = 0;
  const tell = (other: Timed, startMs: number): LogEvent => sites.apply(other.event, reader.raise(other.atMs === AT_START_MS ? startMs : other.atMs));
  const firstOtherMs = others.find(({ atMs }) => atMs !== AT_START_MS)?.atMs ?? Number.POSITIVE_INFINITY;
  for await (const packets of readPackets(params.folder, problems)) {
    for (const packet of packets) {
      const topic = topicOf(packet.topic);
      if (topic?.kind === 'readings' && params.only?.(topic.generator) === false) continue;
      counts.packets += 1;
      // What happened before this packet comes before it; a registry change decides how it is read.
      const aboutMs = params.receivedMs ?? packet.atMs ?? reader.newestMs;
      if (nextOther < others.length && others[nextOther]!.atMs <= aboutMs) {
        yield* reader.flush();
        const startMs = Math.min(Number.isFinite(aboutMs) ? aboutMs : 0, firstOtherMs);
        for (; nextOther < others.length && others[nextOther]!.atMs <= aboutMs; nextOther += 1) yield tell(others[nextOther]!, startMs);
      }
      const presence = reader.take(packet, topic);
      if (presence !== undefined) {
        yield* reader.flush();
        yield presence;
      } else if (reader.length >= ROWS_PER_BATCH) {
        yield* reader.flush();
      }
    }
  }
  yield* reader.end();
  for (; nextOther < others.length; nextOther += 1) yield tell(others[nextOther]!, Number.isFinite(firstOtherMs) ? firstOtherMs : 0);
}

/** Topics that are remembered; what a recording names must not fill the memory. */
const MAX_TOPICS = 20_000;

/** Reads topics; one that came before is not read again. */
function topicBook(): (text: string) => Topic | undefined {
  const known = new Map<string, Topic | undefined>();
  return (text) => {
    if (known.has(text)) return known.get(text);
    if (known.size >= MAX_TOPICS) known.clear();
    const topic = parseTopic(text);
    known.set(text, topic);
    return topic;
  };
}

/** The registry as it is at the point of the log that was reached. */
function createSites(params: ImportParams): { lookup: RegistryLookup; set(site: SiteRecord): void; apply(event: LogEvent, atMs: number): LogEvent } {
  const known = new Map<GeneratorKey, RegisteredGenerator>();
  const set = (site: SiteRecord): void => {
    for (const one of generatorsOf({ sites: [site] })) known.set(one.key, one);
  };
  return {
    lookup: (generator) => known.get(generator) ?? params.registry?.(generator),
    set,
    apply(event, atMs) {
      if (event.kind === 'registry') {
        set(event.change.site);
        // A registry file doesn't say since when it is known: since the log begins.
        return { kind: 'registry', atMs, change: event.change.recordedAtMs === 0 ? { ...event.change, recordedAtMs: atMs } : event.change };
      }
      if (event.kind === 'presence') return { kind: 'presence', event: { ...event.event, atMs } };
      return event.kind === 'readings' ? event : { ...event, atMs };
    },
  };
}

/** Before everything else; such events get the time of what comes first. */
const AT_START_MS = Number.NEGATIVE_INFINITY;

type Timed = { readonly atMs: number; readonly event: LogEvent };

/** Entries, events and the registry in order. An export's registry file knows the end of sites whose changes its events tell, and isn't taken for these; another's is how things stood at the start. */
async function otherEvents(params: ImportParams, counts: ImportCounts, problems: Problems, sites: { set(site: SiteRecord): void }): Promise<Timed[]> {
  const { events, passedOver } = await readEvents(params.folder, problems);
  const registry = await readSites(params.folder, problems);
  const visits = await readVisits(params.folder, problems);
  const wants = (generator: GeneratorKey): boolean => params.only?.(generator) !== false;
  const told = new Set((await isExport(params.folder)) ? events.flatMap((event) => (event.kind === 'registry' ? [event.change.site.id] : [])) : []);
  const atStart = registry.sites.filter((site) => !told.has(site.id) && generatorsOf({ sites: [site] }).some(({ key }) => wants(key)));
  for (const site of atStart) sites.set(site);
  const startMs = params.receivedMs ?? AT_START_MS;
  const timed: Timed[] = [
    ...atStart.map((site) => ({ atMs: startMs, event: { kind: 'registry', atMs: startMs, change: { validFromMs: 0, recordedAtMs: 0, by: 'recording', site } } as const })),
    ...events.filter((event) => isWanted(event, wants)).map((event) => ({ atMs: params.receivedMs ?? timeOfEvent(event), event })),
    ...visits.filter((entry) => wants(`${entry.site}/${entry.generator}` as GeneratorKey)).map((entry) => ({ atMs: params.receivedMs ?? Date.parse(entry.recordedAt), event: { kind: 'entry', atMs: Date.parse(entry.recordedAt), entry } as const })),
  ];
  counts.passedOver = passedOver;
  for (const { event } of timed) {
    if (event.kind === 'registry') counts.registryChanges += 1;
    else if (event.kind === 'entry') counts.entries += 1;
    else if (event.kind === 'closing') counts.closings += 1;
    else if (event.kind === 'presence') counts.presence += 1;
  }
  return timed.sort((a, b) => (a.atMs === b.atMs ? 0 : a.atMs - b.atMs));
}

/** Whether an export of ours wrote the folder: its lines say so. */
async function isExport(folder: string): Promise<boolean> {
  for await (const [first] of readPackets(folder, collectProblems())) if (first !== undefined) return first.kept;
  return false;
}

function timeOfEvent(event: LogEvent): number {
  return event.kind === 'presence' ? event.event.atMs : event.kind === 'readings' ? 0 : event.atMs;
}

function isWanted(event: LogEvent, wants: (generator: GeneratorKey) => boolean): boolean {
  if (event.kind === 'quarantine') return wants(event.generator);
  if (event.kind === 'presence') return event.event.generators.length === 0 || event.event.generators.some(wants);
  return event.kind !== 'registry' || event.change.site.generators.some(({ id }) => wants(`${event.change.site.id}/${id}` as GeneratorKey));
}
