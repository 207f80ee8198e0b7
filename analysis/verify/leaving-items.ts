import type { LeavingItem } from '../../shared/leaving-check.ts';
import type { GeneratorRecord } from '../../shared/registry.ts';
import { MINUTE_MS } from '../../shared/time.ts';
import { median } from '../change/robust.ts';
import { figure, minutesFigure } from './figures.ts';
import { type LeavingNormal, minutesUntilDemandShows, pipingChannels, SETTLE_MS, SHUT_SHARE, usualFall } from './leaving-normal.ts';
import { feedOffset, feedOffsets, riseShare, riseShares } from './run-shape.ts';
import { slopePerMin, slopeWindows, usualOf } from './slope-windows.ts';
import { RISE_KPA, type Sample, type Span, type Tracks, within } from './tracks.ts';

/** What points where: a shut supply, an open bleed, or a machine that doesn't start. */
export type Hint = 'supply-shut' | 'bleed-open' | 'not-starting' | 'other';
export type Looked = { readonly items: readonly LeavingItem[]; readonly notSeen: readonly string[]; readonly hints: readonly Hint[] };

/** The last half hour: its readings, and the runs and rests that reach into it. */
export type Live = { readonly tracks: Tracks; readonly tank: readonly Sample[]; readonly spans: readonly Span[]; readonly fromMs: number; readonly toMs: number; readonly generator: GeneratorRecord };

/** A rest shorter than this shows no slope. */
const LEAST_REST_MS = 10 * MINUTE_MS;
/** So far below cut-in a switch's wander is no explanation any more, kPa; common practice, no source. */
const BELOW_CUT_IN_KPA = 20;

/** Of runs there are few, so their extremes are known poorly, and each is one more chance to be wrong: it must lie well outside them. */
const BEYOND = 1.5;
/** Pressure after the elements that is lower by less than this is the weather's, kPa. */
const LEAST_FEED_KPA = -8;
/** A rise that is slower by less than this isn't worth a word: the room's warmth does as much. */
const LEAST_LOSS = 0.95;

const looked = (item: LeavingItem, more: { hint?: Hint; notSeen?: readonly string[] } = {}): Looked => ({ items: [item], notSeen: more.notSeen ?? [], hints: more.hint === undefined ? [] : [more.hint] });
const unseen = (part: LeavingItem['part'], says: string, ...notSeen: string[]): Looked => ({ items: [{ part, state: 'not seen yet', says }], notSeen, hints: [] });

/** Starting and stopping: below cut-in without a run, and lengths where nothing else is sent. */
export function lookAtSwitching(live: Live, normal: LeavingNormal): Looked {
  const now = live.spans.at(-1);
  if (now === undefined || !normal.switches) return { items: [], notSeen: [], hints: [] };
  const lastS = (live.toMs - now.fromMs) / 1000;
  const tank = live.tank.at(-1)?.[1];
  const { cutInKPa } = live.generator;
  if (!now.running && tank !== undefined && cutInKPa !== undefined && tank < cutInKPa - BELOW_CUT_IN_KPA) {
    return looked({ part: 'switching', state: 'unlike usual', says: `The compressor rests while the tank stands at ${figure(tank)} kPa, below its start at ${figure(cutInKPa)} kPa.` }, { hint: 'not-starting' });
  }
  const usual = now.running ? normal.runMin : normal.restMin;
  const word = now.running ? 'run' : 'rest';
  if (usual === undefined) return unseen('switching', `It has been at this ${word} for ${minutesFigure(lastS / 60)}; what is usual here isn't learned yet.`);
  const says = `It has been at this ${word} for ${minutesFigure(lastS / 60)}; a usual one here lasts ${minutesFigure(usual.middle)}, the longest ${minutesFigure(usual.high)}.`;
  // A run after work fills what was let out, so a long one says nothing; a rest that doesn't end does.
  if (!now.running && now.began && lastS / 60 > 1.1 * usual.high) return looked({ part: 'switching', state: 'unlike usual', says: `${says} Nothing is drawn, or less than usual.` }, { hint: 'supply-shut' });
  return looked({ part: 'switching', state: 'as usual', says });
}

/** The newest settled rest in the window. */
function settledRest(live: Live, normal: LeavingNormal): { readonly samples: readonly Sample[]; readonly minutes: number } | undefined {
  for (const span of live.spans.filter((one) => !one.running).reverse()) {
    const samples = within(live.tank, Math.max(live.fromMs, span.fromMs + (normal.switches && span.began ? SETTLE_MS : 0)), Math.min(live.toMs, span.toMs));
    const lengthMs = samples.length < 3 ? 0 : samples.at(-1)![0] - samples[0]![0];
    const rose = samples.some(([, value], index) => index > 0 && value - samples[index - 1]![1] > RISE_KPA);
    if (lengthMs >= LEAST_REST_MS && !rose) return { samples, minutes: lengthMs / MINUTE_MS };
  }
  return undefined;
}

/** The tank's fall at rest: too slow is a shut supply, too fast an open bleed. */
export function lookAtRest(live: Live, normal: LeavingNormal): Looked {
  if (live.tank.length === 0) return unseen('rest', 'The tank’s pressure isn’t sent, so its fall at rest can’t be seen.', restsOnly(normal));
  const rest = settledRest(live, normal);
  if (rest === undefined) return unseen('rest', 'No settled rest of 10 min was seen.', 'The tank’s fall at rest: it wants 10 min of rest, counted from 3 min after a stop.');
  const usual = usualFall(normal, rest.minutes);
  const fall = -slopePerMin(rest.samples)!;
  const fell = `Over ${minutesFigure(rest.minutes)} of rest the tank fell by ${figure(fall)} kPa/min`;
  if (usual === undefined || usual.middle <= 0) return unseen('rest', `${fell}; what is usual here isn’t learned yet.`, 'Whether the tank’s fall is as usual: too few rests of that length were seen in good order.');
  const here = `; usual here ${figure(Math.max(0, usual.low))} to ${figure(usual.high)} kPa/min`;
  const showsShut = usual.low > SHUT_SHARE * usual.middle;
  if (fall < usual.low && fall < SHUT_SHARE * usual.middle && usual.low > 0.1 * usual.middle) return looked({ part: 'rest', state: 'unlike usual', says: `${fell}${here}. Less is drawn than ever in good order.` }, { hint: 'supply-shut' });
  if (fall > usual.high && fall > 1.2 * usual.middle) return looked({ part: 'rest', state: 'unlike usual', says: `${fell}${here}. More is drawn than ever in good order${moreDrawn(live, fall - usual.middle)}.` }, { hint: 'bleed-open' });
  const notSeen = [`An opening at the tank or the piping that draws less than ${moreThan(Math.max(usual.high / usual.middle, 1.2))}${moreDrawn(live, Math.max(usual.high, 1.2 * usual.middle) - usual.middle)} doesn’t show in so short a time.`];
  if (!showsShut) notSeen.unshift(demandShows(normal));
  return looked({ part: 'rest', state: 'as usual', says: `${fell}${here}.` }, { notSeen });
}

function restsOnly(normal: LeavingNormal): string {
  return normal.restMin === undefined ? 'Demand: neither the tank’s pressure nor enough rests are known.' : `Demand: it shows in the length of rests only, so in the next ${minutesFigure(normal.restMin.high)}.`;
}

function demandShows(normal: LeavingNormal): string {
  const minutes = minutesUntilDemandShows(normal);
  return minutes === undefined ? `Whether the supply is open: demand of this system doesn’t show in ${normal.middleRestMin === undefined ? 'one rest' : `one rest of ${minutesFigure(normal.middleRestMin)}`}.` : `Whether the supply is open: demand of this system shows only after about ${minutesFigure(minutes)} of rest. The second look comes by itself, 4 h after the visit.`;
}

/** A multiple of the usual demand, as what comes on top of it. */
function moreThan(ratio: number): string {
  return ratio < 3 ? `${Math.round((ratio - 1) * 100)} % of the usual demand` : `${figure(ratio - 1)} times the usual demand more`;
}

/** kPa/min of this tank as a flow, in brackets; nothing where its litres aren't registered. */
function moreDrawn(live: Live, kPaPerMin: number): string {
  const { tankLitres } = live.generator;
  return tankLitres === undefined ? '' : ` (${figure((kPaPerMin * tankLitres) / 101.325)} L/min at the tank’s temperature)`;
}

/** The rise in a run, and the pressures of the feed side, at equal tank pressure. */
export function lookAtRun(live: Live, normal: LeavingNormal): Looked[] {
  const runs = live.spans.filter((span) => span.running && span.began && span.toMs > live.fromMs);
  const due = nextRun(live, normal);
  if (live.tank.length === 0 || !normal.switches) return [unseen('run', 'Tank pressure and starts are both needed to see the rise in a run; they aren’t both sent.', 'Delivery, and a bleed left open on the feed side.')];
  const rises = riseShares(normal.tank, normal.runs);
  const usual = usualOf(rises.values);
  if (usual === undefined) return [unseen('run', 'What is usual of a run here isn’t learned yet.', 'Delivery, and a bleed left open on the feed side.')];
  const shares = runs.flatMap((run) => riseShare(live.tank, run, rises.usual) ?? []);
  if (shares.length === 0) return [unseen('run', 'No run was seen that can be compared.', `Delivery, and a bleed left open on the feed side: they show in a run${due}.`)];
  const share = shares.at(-1)!;
  const says = `In the last run the tank rose at ${Math.round(share * 100)} % of the usual rate at the same pressures; usual here ${Math.round(usual.low * 100)} to ${Math.round(usual.high * 100)} %`;
  const low = share < Math.min(LEAST_LOSS, 1 - BEYOND * (1 - usual.low));
  const rise = low ? looked({ part: 'run', state: 'unlike usual', says: `${says}. Less arrives in the tank.` }, { hint: 'bleed-open' }) : looked({ part: 'run', state: 'as usual', says: `${says}.` }, { notSeen: [`A bleed that takes less than ${Math.round((1 - Math.min(LEAST_LOSS, 1 - BEYOND * (1 - usual.low))) * 100)} % of the rise doesn’t show in one run.`] });
  return [rise, ...lookAtFeed(live, normal, runs)];
}

function nextRun(live: Live, normal: LeavingNormal): string {
  const now = live.spans.at(-1);
  if (now === undefined || now.running || normal.middleRestMin === undefined || !now.began) return '';
  const leftMin = normal.middleRestMin - (live.toMs - now.fromMs) / MINUTE_MS;
  return leftMin > 0 ? `; the next is due in about ${minutesFigure(leftMin)}` : '';
}

function lookAtFeed(live: Live, normal: LeavingNormal, runs: readonly Span[]): Looked[] {
  const feed = normal.tracks.get('feed-pressure');
  const now = live.tracks.get('feed-pressure');
  if (feed === undefined || now === undefined) return [];
  const offsets = feedOffsets(normal.tank, feed, normal.runs);
  const usual = usualOf(offsets.values);
  const seen = runs.flatMap((run) => feedOffset(live.tank, now, run, offsets.usual) ?? []);
  if (usual === undefined || seen.length === 0) return [];
  const offset = seen.at(-1)!;
  const says = `The pressure after the elements stood ${figure(Math.abs(offset))} kPa ${offset < 0 ? 'below' : 'above'} its usual value in a run; usual here ${figure(usual.low)} to ${figure(usual.high)} kPa about it`;
  return [offset < Math.min(LEAST_FEED_KPA, BEYOND * usual.low) ? looked({ part: 'feed', state: 'unlike usual', says: `${says}. A bleed or drain before the membrane may be open.` }, { hint: 'bleed-open' }) : looked({ part: 'feed', state: 'as usual', says: `${says}.` })];
}

/** The piping: does it stand where it usually does, and hold? */
export function lookAtPiping(live: Live, normal: LeavingNormal): Looked[] {
  const channels = pipingChannels(live.tracks);
  if (channels.length === 0) return [unseen('piping', 'The piping’s pressure isn’t sent.', 'A supply valve left shut at one of several risers: only its own pressure tells.')];
  return channels.flatMap((channel) => {
    const samples = within(live.tracks.get(channel), live.fromMs, live.toMs);
    const track = normal.tracks.get(channel) ?? [];
    const minutes = samples.length < 3 ? 0 : (samples.at(-1)![0] - samples[0]![0]) / MINUTE_MS;
    const name = channel === 'system-pressure' ? 'The piping' : `The piping of ${channel.slice('system-pressure.'.length)}`;
    if (minutes < 10) return unseen('piping', `${name}: fewer than 10 min of readings.`);
    const windows = slopeWindows(track, normal.days.map((day) => ({ fromMs: day.startMs, toMs: day.endMs })), minutes * MINUTE_MS, 0);
    const level = usualOf(windows.map((window) => window.mean));
    const move = usualOf(windows.map((window) => window.slope * 60));
    const kPa = samples.reduce((sum, [, value]) => sum + value, 0) / samples.length;
    const perHour = slopePerMin(samples)! * 60;
    const now = `${name} stands at ${figure(kPa)} kPa and ${perHour < 0 ? 'falls' : 'rises'} by ${figure(Math.abs(perHour))} kPa/h`;
    if (level === undefined || move === undefined) return unseen('piping', `${now}; what is usual here isn’t learned yet.`);
    const says = `${now}; usual here ${figure(level.low)} to ${figure(level.high)} kPa, moving by ${figure(move.low)} to ${figure(move.high)} kPa/h`;
    const sags = perHour < move.low - 0.2;
    const low = kPa < level.low - 1;
    if (perHour > move.high && low) return looked({ part: 'piping', state: 'as usual', says: `${now}: it is being filled; usual here ${figure(level.low)} to ${figure(level.high)} kPa.` }, { notSeen: [`${name} back at its usual pressure.`] });
    if (sags || low) return looked({ part: 'piping', state: 'unlike usual', says: `${says}. Its supply may be shut.` }, { hint: 'supply-shut' });
    return looked({ part: 'piping', state: 'as usual', says: `${says}.` });
  });
}

/** Nitrogen late in the last run of 5 min or more; right after work it may be low, which is said and not judged. */
export function lookAtNitrogen(live: Live): Looked {
  const track = live.tracks.get('nitrogen');
  if (track === undefined) return { items: [], notSeen: [], hints: [] };
  const run = live.spans.filter((span) => span.running && span.toMs - Math.max(span.fromMs, live.fromMs) >= 5 * MINUTE_MS).at(-1);
  const late = run === undefined ? [] : within(track, run.toMs - (run.toMs - run.fromMs) / 3, run.toMs);
  if (late.length === 0) return unseen('nitrogen', 'No run of 5 min or more was seen, so nitrogen can’t be judged.', 'Nitrogen: it is judged late in a run of 5 min or more.');
  const value = median(late.map(([, share]) => share))!;
  const limit = live.generator.nitrogenLimit;
  const says = `Nitrogen was ${(value * 100).toFixed(1)} % late in the last run; the limit here is ${(limit * 100).toFixed(1)} %`;
  return value < limit - 0.002 ? looked({ part: 'nitrogen', state: 'unlike usual', says: `${says}. After work on the air side it may need some runs to come back.` }, { hint: 'other' }) : looked({ part: 'nitrogen', state: 'as usual', says: `${says}.` });
}
