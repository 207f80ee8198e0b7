import { baseChannel, type Channel, channelRule, type ChannelRule, parseChannel } from '../shared/channels.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import { QUALITY, type BatchBuilder, type Series } from '../shared/reading-batch.ts';
import type { RegisteredGenerator } from '../shared/registry.ts';
import { DAY_MS, MINUTE_MS } from '../shared/time.ts';
import { type Conversion, conversionFor, type PercentAs, standardAtmosphereKPa, type UnitRejection } from '../shared/units.ts';
import type { SenmlRecord } from './decode-pack.ts';
import { type PercentState, stepPercent } from './percent.ts';
import { MOST_AHEAD_MINUTES, MOST_OLD_DAYS, type Refusal, refuseChannel, refuseClock, refuseKind, refuseRange, refuseUnit } from './refusal.ts';

export type RegistryLookup = (generator: GeneratorKey) => RegisteredGenerator | undefined;

/** How records are judged: live ones against the clock, imported ones not, those that an export of ours wrote not at all. */
export type Judging = {
  readonly receivedMs: number;
  /** What device times are compared with; `undefined` for imports, which bring history. */
  readonly clockMs: number | undefined;
  readonly kept?: boolean;
  /** Only records of this channel: for what waited until its unit was clear. */
  readonly only?: Channel;
};

export type Accepted = { readonly readings: number; readonly refusals: readonly Refusal[]; readonly decided: readonly Channel[] };

export type Acceptor = {
  /** Turn resolved records of one generator into kept readings, which go into `into`, or refusals. */
  readonly accept: (generator: GeneratorKey, records: readonly SenmlRecord[], judging: Judging, into: BatchBuilder) => Accepted;
  /** The unit that a channel was last sent in; `null` if it came without one or not yet. */
  readonly sentUnit: (generator: GeneratorKey, channel: Channel) => string | null;
  /** What `%` means in each series (`<generator>/<channel>`) that sends it. */
  readonly percent: Map<string, PercentState>;
  /** Names of `percent` that changed since they were last saved. */
  readonly percentChanged: Set<string>;
};

type ChannelView = { readonly series: Series; readonly rule: ChannelRule; readonly percentAs: PercentAs | undefined; readonly absoluteKPa: number; readonly conversions: Map<string | undefined, Conversion | { readonly rejected: UnitRejection }>; unit: string | undefined };
/** What the registry says that decides about readings; `settings` is `undefined` for a generator that isn't registered. */
type Site = { readonly settings: RegisteredGenerator['generator']['channels'] | undefined; readonly elevationM: number };
type GeneratorView = Site & { readonly channels: Map<string, ChannelView | null> };

/** What strangers send must not fill the memory: beyond this many the views are made anew. */
const MAX_GENERATORS = 20_000;
const MAX_CHANNELS = 200;
const NO_REFUSALS: readonly Refusal[] = [];

export function createAcceptor(registry: RegistryLookup, percent = new Map<string, PercentState>()): Acceptor {
  const views = new Map<GeneratorKey, GeneratorView>();
  const percentChanged = new Set<string>();
  /** Channels whose `%` became clear in the present call. */
  let decided: Channel[] = [];

  function viewOf(generator: GeneratorKey): GeneratorView {
    const registered = registry(generator);
    // A generator that isn't registered may be made up anew at each call, always with the same defaults.
    const settings = registered?.claimed === true ? registered.generator.channels : undefined;
    const elevationM = registered?.site.elevationM ?? 0;
    const known = views.get(generator);
    if (known !== undefined && known.settings === settings && known.elevationM === elevationM) return known;
    if (views.size >= MAX_GENERATORS) views.clear();
    const view: GeneratorView = { settings, elevationM, channels: new Map() };
    views.set(generator, view);
    return view;
  }

  function channelView(view: GeneratorView, generator: GeneratorKey, name: string): ChannelView | null {
    const known = view.channels.get(name);
    if (known !== undefined) return known;
    if (view.channels.size >= MAX_CHANNELS) view.channels.clear();
    const made = newChannelView(view, generator, name);
    view.channels.set(name, made);
    return made;
  }

  function decidePercent(channel: ChannelView, record: SenmlRecord): boolean {
    const name = `${channel.series.generator}/${channel.series.channel}`;
    const before = percent.get(name);
    const after = stepPercent(before, baseChannel(channel.series.channel), record.value as number, record.atMs);
    if (after !== before) {
      percent.set(name, after);
      percentChanged.add(name);
    }
    if (!('as' in after)) return false;
    decided.push(channel.series.channel);
    channel.conversions.set('%', withGauge(conversionFor(channel.rule.quantity, '%', after.as), channel.absoluteKPa));
    return true;
  }

  return {
    percent,
    percentChanged,
    accept(generator, records, judging, into) {
      const view = viewOf(generator);
      const { receivedMs, clockMs = Number.NaN, kept = false, only } = judging;
      const latestMs = clockMs + MOST_AHEAD_MINUTES * MINUTE_MS;
      const earliestMs = clockMs - MOST_OLD_DAYS * DAY_MS;
      let readings = 0;
      let refusals: Refusal[] | undefined;
      decided = [];
      const refuse = (refusal: Refusal): number => (refusals ??= []).push(refusal);
      for (const record of records) {
        const channel = channelView(view, generator, record.channel);
        if (only !== undefined && channel?.series.channel !== only) continue;
        if (record.problem !== undefined) {
          refuse({ reason: 'malformed', channel: channel?.series.channel ?? null, says: `record ${JSON.stringify(record.name.slice(0, 80))}: ${record.problem}.` });
          continue;
        }
        if (channel === null) {
          refuse(refuseChannel(record.channel));
          continue;
        }
        const { rule, series } = channel;
        if (record.kind === 'vb' ? rule.quantity !== 'state' : record.kind !== 'v') {
          refuse(refuseKind(series.channel, rule));
          continue;
        }
        let value = Number(record.value);
        if (!kept && record.kind === 'v') {
          channel.unit = record.unit;
          let conversion = conversionOf(channel, record.unit);
          if ('rejected' in conversion && conversion.rejected === 'unit-unclear' && decidePercent(channel, record)) {
            conversion = conversionOf(channel, record.unit);
          }
          if ('rejected' in conversion) {
            refuse(refuseUnit(series.channel, rule, record.unit, conversion.rejected));
            continue;
          }
          value = value * conversion.scale + conversion.offset;
        }
        if (!kept && (value < rule.possible[0] || value > rule.possible[1] || (rule.quantity === 'state' && value !== 0 && value !== 1))) {
          refuse(refuseRange(series.channel, rule, value));
          continue;
        }
        if (record.atMs > latestMs || record.atMs < earliestMs) {
          refuse(refuseClock(series.channel, record.atMs, clockMs));
          continue;
        }
        // Adding 0 turns −0 into 0, which JSON can't tell apart.
        into.add(series, record.atMs, value + 0, kept ? record.quality : record.relativeTime ? QUALITY.timeResolvedAtReceipt : QUALITY.plain, receivedMs);
        readings += 1;
      }
      return { readings, refusals: refusals ?? NO_REFUSALS, decided };
    },
    sentUnit: (generator, channel) => views.get(generator)?.channels.get(channel)?.unit ?? null,
  };

  function conversionOf(channel: ChannelView, unit: string | undefined): Conversion | { readonly rejected: UnitRejection } {
    const known = channel.conversions.get(unit);
    if (known !== undefined) return known;
    const name = `${channel.series.generator}/${channel.series.channel}`;
    const state = percent.get(name);
    const percentAs = channel.percentAs ?? (state !== undefined && 'as' in state ? state.as : undefined);
    if (unit === '%' && percentAs !== undefined && state !== undefined && !('as' in state)) {
      // The registry has said it since: what waits for it can go.
      percent.set(name, { as: percentAs });
      percentChanged.add(name);
      decided.push(channel.series.channel);
    }
    const made = withGauge(conversionFor(channel.rule.quantity, unit, percentAs), channel.absoluteKPa);
    if ('scale' in made) channel.conversions.set(unit, made);
    return made;
  }
}

function newChannelView(site: Site, generator: GeneratorKey, name: string): ChannelView | null {
  const channel = parseChannel(name);
  if (channel === undefined) return null;
  const rule = channelRule(channel);
  const settings = site.settings?.[channel] ?? site.settings?.[baseChannel(channel)];
  const absoluteKPa = rule.quantity === 'pressure' && settings?.absolute === true ? standardAtmosphereKPa(site.elevationM) : 0;
  return { series: { generator, channel }, rule, percentAs: settings?.percentAs, absoluteKPa, conversions: new Map(), unit: undefined };
}

function withGauge(conversion: Conversion | { readonly rejected: UnitRejection }, absoluteKPa: number): Conversion | { readonly rejected: UnitRejection } {
  return 'rejected' in conversion || absoluteKPa === 0 ? conversion : { scale: conversion.scale, offset: conversion.offset - absoluteKPa };
}
