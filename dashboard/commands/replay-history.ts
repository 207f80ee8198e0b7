import { parseChannel } from '../../shared/channels.ts';
import type { DayRow } from '../../shared/cycle.ts';
import type { Cause } from '../../shared/finding.ts';
import { type GeneratorKey, parseGeneratorKey, splitGeneratorKey } from '../../shared/ids.ts';
import type { SeriesSummary, ReadingStore } from '../../shared/store/reading-store.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { type RegisteredGenerator, type RegistryChange, unclaimedGenerator } from '../../shared/registry.ts';
import { DAY_MS, isoFromMs } from '../../shared/time.ts';
import { type FaultAsked, type FaultChoice, type HistoryAsked, type HistoryChoice, MOST_REPLAY_DAYS, MOST_REPLAY_GENERATORS } from '../../shared/world-replay.ts';
import { FAULTS } from '../../simulator/faults/table.ts';
import { rebuiltScenario } from '../../simulator/rebuilt.ts';
import { type FaultScenario, SEVERITIES } from '../../simulator/scenario.ts';
import type { ReplayWork, StretchTold } from './replay-input.ts';

/** What a run needs of the real house; it only ever reads there. */
export type ReplayStores = { readonly readings: ReadingStore; readonly records: RecordStore; readonly registry: () => readonly RegisteredGenerator[] };

/** A stretch is written as text before it is folded, about 70 bytes a reading: this is 2 GB of scratch space. */
const MOST_STRETCH_READINGS = 25e6;
/** These want a second sensor, or a visit that logs parts, which the page doesn't ask for. */
const NOT_OFFERED: ReadonlySet<string> = new Set(['swapped', 'not-changed']);
const REBUILT_SEED = 7;
const REFUSED_PAGE = 1000;

/** Who has a history here, by site and generator. */
export async function historyChoices({ readings, registry }: ReplayStores): Promise<HistoryChoice[]> {
  const spans = new Map<GeneratorKey, { firstMs: number; lastMs: number }>();
  for (const one of await readings.series()) {
    const known = spans.get(one.generator) ?? { firstMs: Infinity, lastMs: -Infinity };
    spans.set(one.generator, { firstMs: Math.min(known.firstMs, one.firstAtMs), lastMs: Math.max(known.lastMs, one.lastAtMs) });
  }
  const known = new Map(registry().map((one) => [one.key, one]));
  return [...spans].sort(([a], [b]) => (a < b ? -1 : 1)).map(([key, { firstMs, lastMs }]) => {
    const { site, generator } = known.get(key) ?? unclaimedGenerator(key);
    return { site: site.id, siteName: site.name ?? site.id, generator: generator.id, generatorName: generator.name ?? generator.id, zone: site.timeZone, firstAt: isoFromMs(firstMs), lastAt: isoFromMs(lastMs) };
  });
}

/** The faults that can be laid over history, as the simulator has them. */
export function faultChoices(): FaultChoice[] {
  return FAULTS.map(({ cause, variants }) => ({
    cause,
    variants: Object.entries(variants).filter(([name]) => !NOT_OFFERED.has(name)).map(([name, { measure, severities }]) => ({ name, measure, severities: SEVERITIES.map((severity) => ({ severity, says: severities[severity].says })) })),
  }));
}

type Found = { readonly key: GeneratorKey; readonly registered: RegisteredGenerator; readonly series: readonly SeriesSummary[] };
type Prepared = { readonly name: string; readonly work: ReplayWork; readonly generators: number; readonly days: number };

/** A stretch of history, or the same rebuilt with a fault; every reason why there is none. Nothing is written. */
export async function historyWork(asked: HistoryAsked, fault: FaultAsked | undefined, stores: ReplayStores, nowMs: number): Promise<Prepared | { readonly problems: readonly string[] }> {
  const fromMs = Date.parse(asked.fromAt);
  // What is still to come was not silent: a stretch ends now at the latest.
  const toMs = Math.min(Date.parse(asked.toAt), nowMs);
  const problems = spanProblems(asked, fromMs, toMs, nowMs);
  if (problems.length > 0) return { problems };
  const series = await stores.readings.series();
  const registry = new Map(stores.registry().map((one) => [one.key, one]));
  const found = asked.generators.flatMap((text): Found[] => {
    const key = parseGeneratorKey(text);
    const own = series.filter((one) => one.generator === key);
    return key === undefined || own.length === 0 ? [] : [{ key, registered: registry.get(key) ?? unclaimedGenerator(key), series: own }];
  });
  const lost = asked.generators.filter((text) => !found.some((one) => one.key === text));
  if (lost.length > 0) return { problems: lost.map((text) => `${text} has no readings here.`) };
  const days = Math.ceil((toMs - fromMs) / DAY_MS);
  return fault === undefined ? stretchWork(found, fromMs, toMs, days, stores) : rebuiltWork(found, fault, fromMs, days, stores);
}

function spanProblems({ generators }: HistoryAsked, fromMs: number, toMs: number, nowMs: number): string[] {
  const problems: string[] = [];
  if (generators.length === 0) problems.push('Choose at least one generator.');
  if (new Set(generators).size < generators.length) problems.push('A generator is named twice.');
  if (generators.length > MOST_REPLAY_GENERATORS) problems.push(`One run has at most ${MOST_REPLAY_GENERATORS} generators: here are ${generators.length}.`);
  if (!(toMs > fromMs)) problems.push('The stretch must end after it begins.');
  else if (toMs - fromMs > MOST_REPLAY_DAYS * DAY_MS) problems.push(`One run has at most ${MOST_REPLAY_DAYS} days: here are ${Math.ceil((toMs - fromMs) / DAY_MS)}.`);
  if (fromMs >= nowMs) problems.push('The stretch must begin in the past.');
  return problems;
}

async function stretchWork(found: readonly Found[], fromMs: number, toMs: number, days: number, { records }: ReplayStores): Promise<Prepared | { readonly problems: readonly string[] }> {
  const readings = Math.round(found.reduce((sum, one) => sum + one.series.reduce((part, { count, firstAtMs, lastAtMs }) => part + count * overlapShare(firstAtMs, lastAtMs, fromMs, toMs), 0), 0));
  if (readings === 0) return { problems: ['Nothing was received of these generators in that stretch.'] };
  if (readings > MOST_STRETCH_READINGS) return { problems: [`One stretch has at most ${MOST_STRETCH_READINGS / 1e6} million readings: here are about ${Math.ceil(readings / 1e6)} million. Take fewer generators or days.`] };
  const told = await toldIn(found.map((one) => one.key), fromMs, toMs, records);
  const generators = found.map(({ key, registered, series }) => ({ key, channels: series.map((one) => one.channel), zone: registered.site.timeZone }));
  return { name: `history of ${namesOf(found)}`, generators: found.length, days, work: { kind: 'history', generators, fromMs, toMs, readings, told } };
}

function overlapShare(firstMs: number, lastMs: number, fromMs: number, toMs: number): number {
  const shared = Math.min(lastMs, toMs) - Math.max(firstMs, fromMs);
  return shared < 0 ? 0 : lastMs <= firstMs ? 1 : shared / (lastMs - firstMs);
}

function namesOf(found: readonly Found[]): string {
  const [one] = found;
  if (one === undefined || found.length > 1) return `${found.length} generators`;
  const { site, generator } = one.registered;
  return `${site.name ?? site.id}, ${generator.name ?? generator.id}`;
}

/** Registry, entries, presence and refusals of these generators in the stretch, as the log has them. */
async function toldIn(keys: readonly GeneratorKey[], fromMs: number, toMs: number, records: RecordStore): Promise<StretchTold> {
  const wanted = new Set<string>(keys);
  const entries = (await records.entries({ recordedFromMs: fromMs })).filter((entry) => wanted.has(`${entry.site}/${entry.generator}`) && Date.parse(entry.recordedAt) < toMs);
  const presence = (await records.presenceSince(fromMs)).filter((event) => event.atMs < toMs).flatMap((event) => {
    const generators = event.generators.filter((key) => wanted.has(key));
    return generators.length === 0 ? [] : [{ ...event, generators }];
  });
  const refused = [];
  for (const generator of keys) {
    for (let afterId = 0, page = REFUSED_PAGE; page === REFUSED_PAGE; ) {
      const items = await records.quarantined({ generator, afterId, limit: REFUSED_PAGE });
      refused.push(...items.filter((item) => item.receivedMs >= fromMs && item.receivedMs < toMs).map((item) => ({ ...item, payload: '' })));
      page = items.length;
      afterId = items.at(-1)?.id ?? afterId;
    }
  }
  return { registry: registryIn(await records.registryChanges(), wanted, fromMs, toMs), entries, presence, refused: refused.map((item, index) => ({ ...item, id: index + 1 })) };
}

/** Each site as it was known when the stretch began (or first of all, where that came later), and what changed within. */
function registryIn(changes: readonly RegistryChange[], wanted: ReadonlySet<string>, fromMs: number, toMs: number): RegistryChange[] {
  const sites = [...new Set([...wanted].map((key) => splitGeneratorKey(key as GeneratorKey).site as string))];
  return sites.flatMap((site) => {
    const own = changes.filter((change) => change.site.id === site).map((change) => ({ ...change, site: { ...change.site, generators: change.site.generators.filter(({ id }) => wanted.has(`${site}/${id}`)) } }));
    const first = own.findLast((change) => change.recordedAtMs <= fromMs) ?? own[0];
    return [...(first === undefined ? [] : [{ ...first, recordedAtMs: fromMs }]), ...own.filter((change) => change !== first && change.recordedAtMs > fromMs && change.recordedAtMs < toMs)];
  });
}

async function rebuiltWork(found: readonly Found[], asked: FaultAsked, fromMs: number, days: number, { records }: ReplayStores): Promise<Prepared | { readonly problems: readonly string[] }> {
  const startMs = Math.floor(fromMs / DAY_MS) * DAY_MS;
  const toMs = startMs + days * DAY_MS;
  const problems = faultProblems(asked, startMs, toMs);
  const remembered = [];
  const entries = [];
  for (const { key, registered, series } of found) {
    const stored = await records.days({ generator: key, fromMs: startMs, toMs });
    if (!stored.some(tellsRunTime)) problems.push(`${key} has no stored day in that stretch that tells its run time: there is nothing to rebuild it from.`);
    remembered.push({ registered, channels: series.map((one) => one.channel), days: stored });
    entries.push(...(await records.entries({ generator: key, recordedFromMs: startMs })).filter((entry) => Date.parse(entry.recordedAt) < toMs));
  }
  if (problems.length > 0) return { problems };
  const name = `${namesOf(found)}, rebuilt with ${asked.cause.replaceAll('-', ' ')}, ${asked.severity}`;
  const scenario = rebuiltScenario({ name, startMs, remembered, fault: faultOf(asked, startMs) });
  return { name, generators: found.length, days, work: { kind: 'rebuilt', scenario, seed: REBUILT_SEED, startMs, days, entries } };
}

function tellsRunTime(day: DayRow): boolean {
  return day.dutyRatio !== null || (day.demand !== null && day.delivery !== null);
}

function faultProblems(asked: FaultAsked, startMs: number, toMs: number): string[] {
  const known = faultChoices().find((one) => one.cause === asked.cause);
  if (known === undefined) return [`No fault of the simulator has the cause ${asked.cause}.`];
  const problems: string[] = [];
  if (asked.variant !== undefined && !known.variants.some((one) => one.name === asked.variant)) problems.push(`${asked.cause satisfies Cause} has no variant ${asked.variant}: choose one of ${known.variants.map((one) => one.name).join(', ')}.`);
  const onsetMs = Date.parse(asked.onsetAt);
  if (!(onsetMs >= startMs && onsetMs < toMs)) problems.push('The fault must begin within the stretch.');
  if (asked.channel !== undefined && parseChannel(asked.channel) === undefined) problems.push(`${asked.channel} is no channel.`);
  return problems;
}

function faultOf({ cause, variant, severity, shape, onsetAt, growDays, channel }: FaultAsked, startMs: number): FaultScenario {
  const known = channel === undefined ? undefined : parseChannel(channel);
  return { cause, ...(variant === undefined ? {} : { variant }), severity, shape, fromDay: (Date.parse(onsetAt) - startMs) / DAY_MS, ...(shape === 'ramp' ? { growDays: growDays ?? 30 } : {}), ...(known === undefined ? {} : { channel: known }) };
}
