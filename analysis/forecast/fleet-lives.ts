import type { GeneratorKey } from '../../shared/ids.ts';
import type { GeneratorRecord } from '../../shared/registry.ts';
import { type Lived, type PastLife, pastLives } from './element-lives.ts';
import type { LifePoint } from './life-curve.ts';
import type { LivesModel } from './lives-model.ts';

type Kind = GeneratorRecord['kind'];
type FleetLife = PastLife & { readonly generator: GeneratorKey; readonly kind: Kind };

/** What elements of all watched generators showed that are changed by now, newest first. It stays the same object until one more life is over. */
export type FleetLives = { readonly lives: readonly FleetLife[]; readonly signature: string };

/** Lives that are kept for each kind: more tell little more, and take time to learn from. */
const MOST_LIVES = 24;

/**
 * Collect the lives that are over from every generator's closed days.
 *
 * It depends on what is known now alone, not on when it was asked before: so live, after a restart and in a replay it is the same.
 * @param before what was collected last; given back where nothing is new.
 */
export function fleetLives(fleet: Iterable<Lived>, before?: FleetLives): FleetLives {
  const all: FleetLife[] = [];
  for (const lived of fleet) for (const life of pastLives(lived)) all.push({ ...life, generator: lived.registered.key, kind: lived.registered.generator.kind });
  all.sort((a, b) => b.endedMs - a.endedMs || (a.generator < b.generator ? -1 : a.generator > b.generator ? 1 : b.fromMs - a.fromMs));
  const lives = (['membrane', 'sieve'] as const).flatMap((kind) => all.filter((life) => life.kind === kind).slice(0, MOST_LIVES));
  const signature = lives.map(signatureOf).join(' ');
  return before?.signature === signature ? before : { lives, signature };
}

/** Changes when late readings change what a life showed. */
function signatureOf({ generator, kind, fromMs, endedMs, points }: FleetLife): string {
  const shown = points.reduce((sum, { work, level }) => sum + work * level, 0);
  return [generator, kind, fromMs, endedMs, points.length, shown].join('|');
}

/** What others of this kind showed. */
export function pointsOfOthers({ lives }: FleetLives, kind: Kind, generator: GeneratorKey): (readonly LifePoint[])[] {
  return lives.filter((life) => life.kind === kind && life.generator !== generator).map((life) => life.points);
}

const models = new WeakMap<FleetLives, Map<string, LivesModel | undefined>>();

/** What is learned from all lives of a kind up to a limit; learned once, for most generators have no life of their own. */
export function modelOfFleet(fleet: FleetLives, kind: Kind, limitKPa: number, learn: (lives: readonly (readonly LifePoint[])[]) => LivesModel | undefined): LivesModel | undefined {
  const known = models.get(fleet) ?? new Map<string, LivesModel | undefined>();
  models.set(fleet, known);
  const name = `${kind} ${limitKPa}`;
  if (!known.has(name)) known.set(name, learn(fleet.lives.filter((life) => life.kind === kind).map((life) => life.points)));
  return known.get(name);
}
