import { HOUR_MS, MINUTE_MS } from '../../shared/time.ts';
import { FRESH_MS, freshValue, hours, LATE_START_KPA, type Normal, type Present } from './clock-view.ts';
import { certainCondition, type Condition, mixedCondition, SPOILT_BY_ENDLESS } from './condition.ts';
import { kPaText } from './evidence.ts';
import { middleTimes } from './recent-cycles.ts';

/*
 * A compressor that doesn't start or doesn't stop, where neither a run state nor a meter is sent: a tank that is read often enough
 * shows in its rests that there is no run, and in its runs that one goes on.
 */

/** A tank that goes on falling below its start for so long, in no hour much faster than in its rests, but for a burst of such a share of its band. Common practice, no source. */
const FALLS_ON_MS = 30 * MINUTE_MS;
const PACE_TIMES = 2;
const BURST_SHARE = 0.3;
/** What a gauge scatters by. */
const SCATTER_KPA = 1.5;
/** One that stands so far above its stop, when it should have fallen by so much since and fell by less than that share of it. Common practice, no source. */
const ABOVE_STOP_KPA = 15;
const SHOULD_FALL_KPA = 30;
const FELL_SHARE = 0.25;
const LEAST_HOURS = 2;

/** What the tank says by itself of starts and stops that don't come. */
export function byTankAlone(present: Present, normal: Normal): Condition[] {
  const { running, isMetered, tankShowsRuns, tankShowsRests, frontierMs } = present;
  const { usual, weeks } = normal.cycles;
  const tankKPa = freshValue(present.tankKPa, present.tankAtMs, frontierMs);
  const { restS } = middleTimes(normal.cycles);
  if (running !== null || isMetered || !tankShowsRests || tankKPa === null || restS === undefined || usual === null || usual.startKPa === null || usual.stopKPa === null) return [];
  const bandKPa = usual.stopKPa - usual.startKPa;
  const perMs = bandKPa / (1000 * restS);
  // A gauge that lied for weeks may have taken the last cycles' stops down with it.
  const stopKPa = Math.max(usual.stopKPa, normal.cutOutKPa ?? 0, normal.setStopKPa ?? 0, ...weeks.flatMap((week) => week.stopKPa ?? []));
  return [...fallsOn(present, { startKPa: usual.startKPa, tankKPa, bandKPa, perMs, longestRestS: usual.longestRestS }), ...(tankShowsRuns ? standsAbove(present, stopKPa, tankKPa, perMs) : [])];
}

/** A tank that fell by more at once, as piping that is filled in bursts draws from it or a gauge jumps, would have been filled within so many of the longest usual rests. Common practice, no source. */
const UNPACED_RESTS = 1.5;

/** It came below its start at the pace of a rest, and goes on so: nothing runs. A run that slips between two samples would still leave it fuller. */
function fallsOn({ belowSinceMs, belowSuddenly, crestKPa, crestAtMs, tankHours, tankTrail, frontierMs }: Present, { startKPa, tankKPa, bandKPa, perMs, longestRestS }: { readonly startKPa: number; readonly tankKPa: number; readonly bandKPa: number; readonly perMs: number; readonly longestRestS: number }): Condition[] {
  if (belowSinceMs === null || crestKPa === null || crestAtMs === null || crestKPa < startKPa || frontierMs - belowSinceMs < FALLS_ON_MS || startKPa - tankKPa < LATE_START_KPA) return [];
  const since = [...tankHours.filter(([atMs]) => atMs >= crestAtMs), ...tankTrail.slice(-1)];
  const paced = since.every(([atMs, kPa], index) => index === 0 || since[index - 1]![1] - kPa <= PACE_TIMES * perMs * (atMs - since[index - 1]![0]) + BURST_SHARE * bandKPa);
  const rises = (trail: readonly (readonly [number, number])[]): boolean => trail.some(([, kPa], index) => index > 0 && kPa > trail[index - 1]![1] + SCATTER_KPA);
  if (rises(tankTrail)) return [];
  const waited = frontierMs - belowSinceMs > 1000 * UNPACED_RESTS * longestRestS && !rises(tankHours.filter(([atMs]) => atMs >= belowSinceMs));
  if ((belowSuddenly || !paced) && !waited) return [];
  const says = `The tank is at ${kPaText(tankKPa)}, below its usual start at ${kPaText(startKPa)} for ${hours(frontierMs - belowSinceMs)}, and falls on as in a rest: the compressor has not started.`;
  return [certainCondition('running', 'not-starting', 0.9, belowSinceMs, says, true)];
}

/** It stands above its stop, and doesn't fall as it does in a rest: something goes on filling it. */
function standsAbove({ tankHours, tankAtMs }: Present, stopKPa: number, tankKPa: number, perMs: number): Condition[] {
  const leastKPa = stopKPa + ABOVE_STOP_KPA;
  const before = tankHours.slice(tankHours.findLastIndex(([, kPa]) => kPa <= leastKPa) + 1);
  const [first] = before;
  if (first === undefined || tankKPa <= leastKPa || before.length < LEAST_HOURS || before.at(-1)![0] < tankAtMs! - HOUR_MS - FRESH_MS) return [];
  const shouldKPa = perMs * (tankAtMs! - first[0]);
  if (shouldKPa < SHOULD_FALL_KPA || first[1] - tankKPa > FELL_SHARE * shouldKPa) return [];
  const says = `The tank has stood above its usual stop at ${kPaText(stopKPa)} for ${hours(tankAtMs! - first[0])}, now at ${kPaText(tankKPa)}; in a rest it would have lost ${kPaText(shouldKPa)} since: the compressor doesn't stop.`;
  return [{ ...mixedCondition('running', [['runs-without-end', 0.85], ['sensor-fault', 0.15]], first[0], [{ says, for: 'runs-without-end', weight: 2.5 }]), letsOff: true, hides: SPOILT_BY_ENDLESS }];
}
