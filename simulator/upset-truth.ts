import { type BaseChannel, baseChannel } from '../shared/channels.ts';
import type { Cause } from '../shared/finding.ts';
import { splitGeneratorKey } from '../shared/ids.ts';
import { HOUR_MS, isoFromMs, MINUTE_MS } from '../shared/time.ts';
import type { halfWayAged } from './ageing.ts';
import { creepShows, UPSETS } from './faults/upsets.ts';
import type { GeneratorScenario, UpsetScenario } from './scenario.ts';
import type { Sign } from './signs.ts';
import { dayMs } from './story-times.ts';
import type { World } from './world.ts';

export type UpsetTruth = { readonly site: string; readonly generator: string; readonly kind: string; readonly from: string; readonly to: string; readonly maySay: readonly Cause[] };
type Spell = { readonly kind: string; readonly fromMs: number; readonly toMs: number; readonly maySay: readonly Cause[] };

/** Until a visit is written down. */
const WRITTEN_MS = 25 * MINUTE_MS;

/** All that befell a generator and what an honest observer might have taken it for: the story's upsets, visits, parts that are half-way worn or loaded, and signs that are what they say whatever they come from. */
export function upsetsOf(world: World, generator: GeneratorScenario, index: number, halfWay: ReturnType<typeof halfWayAged>): UpsetTruth[] {
  const at = (day: number): number => dayMs(world.startMs, day);
  const spells = [
    ...generator.upsets.map((upset): Spell => ({ kind: upset.kind, fromMs: at(upset.fromDay), toMs: at(upset.fromDay) + spokenOfHours(upset) * HOUR_MS, maySay: maySay(generator, upset) })),
    // Who works at a machine has locked it out, and tells it only afterwards: till then it looks like one that doesn't start.
    ...generator.visits.map((visit): Spell => ({ kind: 'visit', fromMs: at(visit.atDay), toMs: at(visit.atDay + visit.hours / 24) + WRITTEN_MS, maySay: ['not-starting'] })),
    ...halfWay.map(({ cause, fromMs, toMs }): Spell => ({ kind: 'part-worn', fromMs, toMs, maySay: [cause] })),
    ...together(world.generators[index]!.signs ?? [], world.nowMs).map((sign): Spell => ({ ...sign, maySay: [SIGN_SAYS[sign.kind]] })),
  ];
  return spells.filter((spell) => spell.fromMs <= world.nowMs).map(({ kind, fromMs, toMs, maySay: causes }) => ({ ...splitGeneratorKey(generator.key), kind, from: isoFromMs(fromMs), to: isoFromMs(Math.min(world.nowMs, toMs)), maySay: causes }));
}

const SIGN_SAYS: Readonly<Record<Sign['kind'], Cause>> = { 'long-run': 'runs-without-end', 'stopped-short': 'stops-short', 'counter-round': 'sensor-fault' };

/** Signs that come again so soon are one: a protector that opens in each run stops twenty a day short. */
const AGAIN_MS = 2 * HOUR_MS;

type SignSpell = { readonly kind: Sign['kind']; readonly fromMs: number; toMs: number };

function together(signs: readonly Sign[], nowMs: number): SignSpell[] {
  const spells: SignSpell[] = [];
  for (const { kind, fromMs, toMs } of signs) {
    const last = spells.findLast((spell) => spell.kind === kind);
    if (last !== undefined && fromMs - last.toMs <= AGAIN_MS) last.toMs = toMs ?? nowMs;
    else spells.push({ kind, fromMs, toMs: toMs ?? nowMs });
  }
  return spells;
}

/** A band that was moved and logged is news for a day. */
function spokenOfHours(upset: UpsetScenario): number {
  return Math.min(upset.hours, UPSETS[upset.kind].newsHours ?? Infinity);
}

/** What the channels sent leave open. */
function maySay(generator: GeneratorScenario, upset: UpsetScenario): readonly Cause[] {
  if (upset.kind === 'regulator-creep' && !creepShows(generator.plant, upset)) return [];
  const sent = new Set(generator.channels.map(baseChannel));
  return UPSETS[upset.kind].maySay((...channels: BaseChannel[]) => channels.some((channel) => sent.has(channel)));
}
