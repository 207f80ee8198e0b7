import { type FleetLives, modelOfFleet, pointsOfOthers } from './fleet-lives.ts';
import { hoursPerDayOf, type Lived, lifeBetween, pastLives, presentAge } from './element-lives.ts';
import type { LifePoint } from './life-curve.ts';
import { type LifeLeft, lifeLeft } from './life-left.ts';
import { type Life, learnLives, type LivesModel } from './lives-model.ts';
import type { LimitAnswer } from './time-to-limit.ts';

const DAY_MS = 86_400_000;
/** Days of running whose mean is the present rate, as for the service that was agreed. */
const RATE_DAYS = 14;
/** Standard deviation of the logarithm of the pace to come over the present one, as for trends (`time-to-limit.ts`). */
const PACE_SD = 0.26;
/** A life of other elements speaks where it showed at least so much of the limit. */
const SPEAKS_SHARE = 0.5;

export type DropQuestion = { readonly lived: Lived; readonly fleet?: FleetLives; readonly limitKPa: number; readonly nowMs: number; readonly horizonDays: number };

/**
 * When the drop over the elements reaches its limit, from earlier lives of elements: what each showed over running hours from its
 * change to the next. Lives of this generator count double; those of others of its kind are borrowed, and speak alone where it has none.
 * `undefined` unless two lives reached the limit and the present one has a value.
 *
 * Running hours become days at the rate of the last two weeks; that it may change is left out. Where the present elements
 * were fitted before the first day, the hours until then are taken to have gone at the mean rate of the days that are known.
 */
export function dropFromLives({ lived, fleet, limitKPa, nowMs, horizonDays }: DropQuestion): LimitAnswer['crossesMs'] | undefined {
  const present = presentLife(lived);
  if (present === undefined) return undefined;
  const model = modelFor(lived, fleet, limitKPa);
  const left = model && lifeLeft(model, present);
  const hoursPerDay = hoursPerDayOf(lived.rows.slice(-RATE_DAYS));
  if (left === undefined || hoursPerDay === undefined) return undefined;
  const at = (hours: number): number | null => (hours / hoursPerDay > horizonDays ? null : Math.round(nowMs + (hours / hoursPerDay) * DAY_MS));
  const { p10, p25, p50, p75, p90 } = atPaces(left);
  return { p10: at(p10), p25: at(p25), p50: at(p50), p75: at(p75), p90: at(p90) };
}

/** Running hours left, counted at the present pace, where running goes on slower or faster by about a third: what the pace makes unsure is added in logarithms. */
function atPaces({ p10, p25, p50, p75, p90 }: LifeLeft): LifeLeft {
  const wider = (hours: number, z: number): number => (hours <= 0 || p50 <= 0 ? hours : p50 * Math.exp(Math.sign(z) * Math.hypot(Math.log(hours / p50), PACE_SD * z)));
  return { p10: wider(p10, -1.2816), p25: wider(p25, -0.6745), p50, p75: wider(p75, 0.6745), p90: wider(p90, 1.2816) };
}

function modelFor(lived: Lived, fleet: FleetLives | undefined, limitKPa: number): LivesModel | undefined {
  const own = pastLives(lived).map((life) => asLife(life.points, limitKPa, true));
  if (fleet === undefined) return learnLives(own, limitKPa);
  const { key, generator } = lived.registered;
  const learn = (others: readonly (readonly LifePoint[])[]): LivesModel | undefined => learnLives([...own, ...others.map((points) => asLife(points, limitKPa, false)).filter((life) => (life.points.at(-1)?.level ?? 0) >= SPEAKS_SHARE * limitKPa)], limitKPa);
  // Without a life of its own a generator learns what all others of its kind do.
  return own.length === 0 ? modelOfFleet(fleet, generator.kind, limitKPa, learn) : learn(pointsOfOthers(fleet, generator.kind, key));
}

/** A life up to the limit, where it got there. */
function asLife(points: readonly LifePoint[], limitKPa: number, own: boolean): Life {
  const end = points.findIndex((point) => point.level >= limitKPa);
  return end < 0 ? { points, own, reachedLimit: false } : { points: points.slice(0, end + 1), own, reachedLimit: true };
}

/** What the present elements showed so far; `undefined` where nobody said when they were fitted. */
function presentLife(lived: Lived): readonly LifePoint[] | undefined {
  const age = presentAge(lived);
  const points = age && lifeBetween(lived.rows, age.fromMs, Infinity, age.hoursBefore);
  return points === undefined || points.length === 0 ? undefined : points;
}
