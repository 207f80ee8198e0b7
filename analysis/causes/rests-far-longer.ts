import type { Entry } from '../../shared/entry.ts';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import { freshValue, hours, type Normal, type Present } from './clock-view.ts';
import { type Condition, mixedCondition } from './condition.ts';
import { kPaText } from './evidence.ts';
import { demandMended } from './hardly-drawn.ts';
import { median } from '../change/robust.ts';

/*
 * A supply that was shut or bypassed with no visit that is known of: the days say so after a long weekend. Where single rests say
 * more than people who stay away can make of them, it need not be waited for.
 */

/** Two rests in a row, so many times the longest of the weeks before; by what is drawn quietly, as people who draw in bursts may stay away. Common practice, no source. */
const TIMES = 2;
/** Where nobody knows how much that is. */
const QUIET_UNKNOWN = 0.5;
const LEAST_QUIET = 0.25;
/** Together they take so long; and the usual ones are so short that warm weather, which feeds tight piping for a day, is no reason. Common practice, no source. */
const LEAST_MS = 8 * HOUR_MS;
const MOST_USUAL_S = 4 * 3600;
/** What a visit shut is looked for elsewhere. */
const AFTER_SERVICE_MS = 2 * DAY_MS;
/** Piping that is warmed stands above what it usually does, and one that isn't fed sags, kPa. Common practice, no source. */
const SURPLUS_KPA = 3;
const SAGS_KPA = 3;

/** Nothing much is drawn any more, rest after rest, and nobody was there. */
export function restsFarLonger(present: Present, normal: Normal, lastService: Entry | undefined): Condition[] {
  const { running, sinceMs, frontierMs, supplyOpen } = present;
  const { usual, last } = normal.cycles;
  const rest = last.at(-1);
  if (running !== false || sinceMs === null || usual === null || rest === undefined || present.filling) return [];
  const servedMs = lastService === undefined ? -Infinity : Date.parse(lastService.finishedAt ?? lastService.startedAt);
  if (frontierMs - servedMs < AFTER_SERVICE_MS || demandMended(present, servedMs)) return [];
  const longestMs = 1000 * Math.max(usual.longestRestS, normal.baselineRestS, normal.usualDayRestS);
  const leastMs = (TIMES * longestMs) / Math.max(LEAST_QUIET, normal.quietShare ?? QUIET_UNKNOWN);
  const [beforeMs, nowMs] = [1000 * rest[2], frontierMs - sinceMs];
  // Once it was said, the last whole rest says whether it goes on.
  const isLong = beforeMs > leastMs && (supplyOpen || (nowMs > leastMs && beforeMs + nowMs > LEAST_MS));
  if (!isLong || median(last.map((cycle) => cycle[2]))! > MOST_USUAL_S) return [];
  const says = { says: `The compressor rested for ${hours(beforeMs)}, and rests for ${hours(nowMs)} now; usual rests end within ${hours(longestMs)}. No visit is recorded near its beginning.`, for: 'supply-bypassed' as const, weight: 1.5 };
  const sinceRestMs = rest[0] + 1000 * rest[1];
  const systemKPa = freshValue(present.systemKPa, present.systemAtMs, frontierMs);
  if (systemKPa === null || normal.systemKPa === null) return [{ ...mixedCondition('supply', [['supply-bypassed', 0.6], ['valve-left-shut', 0.4]], sinceRestMs, [says, { says: UNTOLD, for: 'undetermined', weight: 0 }]), cause: 'undetermined', among: ['supply-bypassed', 'valve-left-shut'], missingChannels: ['system-pressure'] }];
  if (systemKPa > normal.systemKPa + SURPLUS_KPA) return [];
  if (systemKPa < normal.systemKPa - SAGS_KPA) return [mixedCondition('supply', [['valve-left-shut', 0.85], ['supply-bypassed', 0.15]], sinceRestMs, [{ ...says, for: 'valve-left-shut' }, { says: `The piping is at ${kPaText(systemKPa)}; its usual is ${kPaText(normal.systemKPa)}.`, for: 'valve-left-shut', weight: 2 }])];
  return [mixedCondition('supply', [['supply-bypassed', 0.85], ['valve-left-shut', 0.15]], sinceRestMs, [says, { says: `The piping holds its usual ${kPaText(normal.systemKPa)}: another supply feeds it.`, for: 'supply-bypassed', weight: 2 }])];
}

const UNTOLD = "Can't tell a valve that is shut from another supply that feeds the piping here: piping pressure is not sent.";
