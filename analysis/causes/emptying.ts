import type { FeedFall } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import { DAY_MS } from '../../shared/time.ts';
import type { Baseline } from './baseline.ts';
import { type Condition, mixedCondition } from './condition.ts';
import { dayWords, fallMinutes } from './evidence.ts';

/** Stops that must agree, right after a visit and at any time. Common practice, no source. */
const AFTER_VISIT = 2;
const AT_ANY_TIME = 3;
/** ln by which the feed side must empty faster, and in scatters of its days. Common practice, no source. */
const LEAST_FASTER = 0.2;
const LEAST_SCATTERS = 4;
/** A visit is looked back at for so long, and a stop is of now for so long. */
const LOOKED_AT_MS = 2 * DAY_MS;

/**
 * The feed side empties faster after the last stops than it ever does: a drain stands open, or a bleed if a visit was just
 * before. Single stops tell, so it is known within two or three cycles, also where it comes and goes.
 * @param usual the baseline of ln(fall, s) by days; nothing is said before there is one.
 */
export function emptiesFaster(falls: readonly FeedFall[], usual: Baseline | null, entries: readonly Entry[], frontierMs: number, timeZone: string): Condition[] {
  if (usual === null) return [];
  const isFaster = ([, fallS]: FeedFall): boolean => Math.log(fallS) < usual.centre - Math.max(LEAST_FASTER, LEAST_SCATTERS * usual.scatter);
  const says = (some: readonly FeedFall[]): string => `After the last ${some.length} stops the feed side fell to a third in ${some.map(([, fallS]) => fallMinutes(Math.log(fallS))).join(', ')} min; usual are ${fallMinutes(usual.centre)} min.`;
  const service = entries.findLast((entry) => entry.kind === 'service');
  const servedMs = service === undefined ? -Infinity : Date.parse(service.finishedAt ?? service.startedAt);
  if (frontierMs - servedMs < LOOKED_AT_MS) {
    const since = falls.filter(([stopMs]) => stopMs > servedMs);
    if (since.length < AFTER_VISIT || !since.every(isFaster)) return [];
    return [mixedCondition('delivery', [['bleed-left-open', 0.85], ['drain-stuck-open', 0.15]], servedMs, [{ says: says(since), for: 'bleed-left-open', weight: 2.5 }, { says: `It is so since the visit of ${dayWords(service!.startedAt, timeZone)}.`, for: 'bleed-left-open', weight: 2 }])];
  }
  const last = falls.slice(-AT_ANY_TIME);
  if (last.length < AT_ANY_TIME || frontierMs - last.at(-1)![0] > LOOKED_AT_MS || !last.every(isFaster)) return [];
  return [mixedCondition('delivery', [['drain-stuck-open', 0.9], ['bleed-left-open', 0.1]], last[0]![0], [{ says: says(last), for: 'drain-stuck-open', weight: 2.5 }])];
}
