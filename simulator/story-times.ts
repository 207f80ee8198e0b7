import { entrySchema, type Entry, type EntryKind } from '../shared/entry.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import { splitGeneratorKey } from '../shared/ids.ts';
import type { PresenceEvent } from '../shared/log-event.ts';
import { DAY_MS, HOUR_MS, isoFromMs, MINUTE_MS } from '../shared/time.ts';
import { UPSETS } from './faults/upsets.ts';
import type { GeneratorScenario, UpsetKind, UpsetScenario } from './scenario.ts';
import type { World } from './world.ts';

/** A day of a scenario as a moment: counted from the midnight (UTC) before the world's start. */
export function dayMs(startMs: number, day: number): number {
  return Math.round((Math.floor(startMs / DAY_MS) * DAY_MS + day * DAY_MS) / 1000) * 1000;
}

const LOGGED_AS: Readonly<Partial<Record<UpsetKind, EntryKind>>> = { 'trip-test': 'trip-test', 'low-pressure-test': 'low-pressure-test', purge: 'purge', 'set-point': 'set-point', 'lock-out': 'impairment', works: 'impairment' };

function upsetEntry(world: World, generator: GeneratorScenario, upset: UpsetScenario, index: number): Entry | undefined {
  const kind = LOGGED_AS[upset.kind];
  if (kind === undefined) return undefined;
  const startMs = dayMs(world.startMs, upset.fromDay);
  // A person logs the test itself; that purging goes on for days is not in the log.
  const hours = kind === 'set-point' ? 0.25 : kind === 'trip-test' ? (upset.size ?? UPSETS['trip-test'].usualSize) + 6 : upset.kind === 'works' ? (upset.size ?? UPSETS.works.usualSize) : upset.hours;
  const size = upset.size ?? UPSETS['set-point'].usualSize;
  const finishedMs = startMs + hours * HOUR_MS;
  const adjusted = kind === 'set-point' ? { cutInKPa: generator.plant.cutInKPa + size, cutOutKPa: generator.plant.cutOutKPa + size } : {};
  return entrySchema.parse({ id: `${kind}-${generator.key.replace('/', '-')}-${index + 1}`, ...splitGeneratorKey(generator.key), kind, startedAt: isoFromMs(startMs), finishedAt: isoFromMs(finishedMs), recordedAt: isoFromMs(finishedMs + 20 * MINUTE_MS), adjusted, by: 'A. Sample' });
}

/**
 * What people logged, in order of becoming known: visits, and those upsets that a person makes. All that became known after
 * `fromMs` and up to `toMs`; without bounds all up to the world's present.
 */
export function worldEntries(world: World, fromMs = -Infinity, toMs = world.nowMs): Entry[] {
  const entries = world.scenario.generators.flatMap((generator, place) => [
    ...generator.visits.map((visit, index) => {
      const startMs = dayMs(world.startMs, visit.atDay);
      const finishedMs = startMs + visit.hours * HOUR_MS;
      return entrySchema.parse({ id: visit.id, ...splitGeneratorKey(generator.key), kind: 'service', startedAt: isoFromMs(startMs), finishedAt: isoFromMs(finishedMs), recordedAt: isoFromMs(finishedMs + 25 * MINUTE_MS), replaced: visit.replaced, ...readingsOfVisit(world, place, index), ...(visit.by === undefined ? {} : { by: visit.by }), ...(visit.note === undefined ? {} : { note: visit.note }) });
    }),
    ...generator.upsets.map((upset, index) => upsetEntry(world, generator, upset, index)).filter((entry) => entry !== undefined),
  ]);
  const known = (entry: Entry): number => Date.parse(entry.recordedAt);
  return entries.filter((entry) => known(entry) > fromMs && known(entry) <= toMs).sort((a, b) => known(a) - known(b) || (a.id < b.id ? -1 : 1));
}

/** What the technician read, where the world has lived through the visit. */
function readingsOfVisit(world: World, generator: number, visit: number): { readings?: { asFound: Record<string, number>; asLeft: Record<string, number> } } {
  const read = world.generators[generator]?.gauges?.find((one) => one.visit === visit);
  return read === undefined || read.asLeft === null ? {} : { readings: { asFound: read.asFound, asLeft: read.asLeft } };
}

/** A gateway of the fleet: a site's, with the generators that it speaks for. */
export type Gateway = { readonly site: string; readonly gateway: string; readonly generators: readonly GeneratorKey[] };

export function worldGateways(world: World): Gateway[] {
  const found = new Map<string, { site: string; gateway: string; generators: GeneratorKey[] }>();
  for (const generator of world.scenario.generators) {
    const { site } = splitGeneratorKey(generator.key);
    const one = found.get(`${site}/${generator.gateway}`) ?? { site, gateway: generator.gateway, generators: [] };
    one.generators.push(generator.key);
    found.set(`${site}/${generator.gateway}`, one);
  }
  return [...found.values()];
}

/** Spells in which a gateway is not connected, [from, to): no readings come, and the broker has published its will. */
function offlineSpells(world: World, gateway: Gateway): [number, number][] {
  const spells = world.scenario.generators
    .filter((one) => gateway.generators.includes(one.key))
    .flatMap((one): [number, number][] => {
      const onBattery = one.channels.includes('power');
      const upsets = one.upsets.filter((upset) => upset.kind === 'late-burst' || upset.kind === 'gap' || (upset.kind === 'power-cut' && !onBattery));
      const faults = one.faults.filter((fault) => fault.cause === 'data-gap' || (fault.cause === 'no-power' && !onBattery));
      return [...upsets.map((upset): [number, number] => [dayMs(world.startMs, upset.fromDay), dayMs(world.startMs, upset.fromDay + upset.hours / 24)]), ...faults.map((fault): [number, number] => [dayMs(world.startMs, fault.fromDay), fault.toDay === undefined ? Infinity : dayMs(world.startMs, fault.toDay)])];
    });
  return spells.sort((a, b) => a[0] - b[0]);
}

/** Whether a gateway is connected at a moment. */
export function gatewayOnline(world: World, gateway: Gateway, atMs: number): boolean {
  return !offlineSpells(world, gateway).some(([from, to]) => atMs >= from && atMs < to);
}

/** The broker publishes the will after one and a half keep-alives of 60 s. */
const WILL_AFTER_MS = 90_000;

/** Comings and goings of gateways after `fromMs` and up to `toMs`, by receipt; the first coming of all is at the world's start. */
export function worldPresence(world: World, fromMs = -Infinity, toMs = world.nowMs): PresenceEvent[] {
  const events = worldGateways(world).flatMap((gateway) => {
    const said = (atMs: number, online: boolean): PresenceEvent => ({ atMs, site: gateway.site, gateway: gateway.gateway, online, generators: gateway.generators });
    return [said(world.startMs, true), ...offlineSpells(world, gateway).flatMap(([from, to]) => [said(from + WILL_AFTER_MS, false), ...(to === Infinity ? [] : [said(Math.max(to, from + WILL_AFTER_MS) + 2000, true)])])];
  });
  return events.filter((event) => event.atMs > fromMs && event.atMs <= toMs).sort((a, b) => a.atMs - b.atMs);
}
