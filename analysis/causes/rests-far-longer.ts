import type { Entry } from '../../shared/entry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { median } from '../change/robust.ts';
import { freshValue, hours, type Normal, type Present } from './clock-view.ts';
import { type Condition, mixedCondition } from './condition.ts';
import { kPaText } from './evidence.ts';
import { demandMended, drawnAgain } from './hardly-drawn.ts';
import { isTest } from './mends.ts';

/*
 * A supply that was shut or bypassed with no visit that is known of: the days say so after a long weekend. A rest that is far
 * longer than any of the days before, in whose nights and weekends people stayed away too, need not wait so long.
 */

/** So many times the longest usual rest: where the piping holds meanwhile, and where nobody knows how it stands. Common practice, no source. */
const TIMES_HELD = 2;
const TIMES_UNTOLD = 4;
/** Warm weather feeds tight piping for half a day: where usual rests are longer and no piping pressure is sent, the days have to tell. Common practice, no source. */
const MOST_USUAL_S = 4 * 3600;
/** What a visit shut is looked for elsewhere. */
const AFTER_SERVICE_MS = 2 * DAY_MS;
/** Piping that stands so near its usual is held; warmed it stands above, kPa. Common practice, no source. */
const HELD_KPA = 3;

/** Nothing much is drawn any more, and nobody was there. */
export function restsFarLonger(present: Present, normal: Normal, entries: readonly Entry[]): Condition[] {
  const { running, sinceMs, frontierMs, supplyOpen } = present;
  const { usual, last } = normal.cycles;
  if (running !== false || sinceMs === null || usual === null || present.filling || present.tankKPa === null || drawnAgain(present, normal)) return [];
  // After days in which much was let out, what is usual is long.
  if (entries.some((entry) => isTest(entry) && Date.parse(entry.finishedAt ?? entry.startedAt) > last[0]![0])) return [];
  const service = entries.findLast((entry) => entry.kind === 'service');
  const servedMs = service === undefined ? -Infinity : Date.parse(service.finishedAt ?? service.startedAt);
  if (frontierMs - servedMs < AFTER_SERVICE_MS || demandMended(present, servedMs)) return [];
  const systemKPa = freshValue(present.systemKPa, present.systemAtMs, frontierMs);
  const isTold = systemKPa !== null && normal.systemKPa !== null;
  if (isTold ? Math.abs(systemKPa - normal.systemKPa) > HELD_KPA : median(last.map((cycle) => cycle[2]))! > MOST_USUAL_S) return [];
  const longestMs = 1000 * Math.max(usual.longestRestS, normal.baselineRestS, normal.usualDayRestS);
  // Once it was said, the last whole rest says whether it goes on.
  const restMs = Math.max(frontierMs - sinceMs, supplyOpen ? 1000 * last.at(-1)![2] : 0);
  if (restMs <= (isTold ? TIMES_HELD : TIMES_UNTOLD) * longestMs) return [];
  const says = { says: `The compressor has rested for ${hours(restMs)}; usual rests end within ${hours(longestMs)}. No visit is recorded near its beginning.`, for: 'supply-bypassed' as const, weight: 1.5 };
  if (isTold) return [mixedCondition('supply', [['supply-bypassed', 0.85], ['valve-left-shut', 0.15]], sinceMs, [says, { says: `The piping holds its usual ${kPaText(normal.systemKPa)}: another supply feeds it.`, for: 'supply-bypassed', weight: 2 }])];
  const untold = { says: "Can't tell a valve that is shut from another supply that feeds the piping here: piping pressure is not sent.", for: 'undetermined' as const, weight: 0 };
  return [{ ...mixedCondition('supply', [['supply-bypassed', 0.6], ['valve-left-shut', 0.4]], sinceMs, [says, untold]), cause: 'undetermined', among: ['supply-bypassed', 'valve-left-shut'], missingChannels: ['system-pressure'] }];
}
