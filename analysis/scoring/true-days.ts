import { DAY_MS } from '../../shared/time.ts';

/** A plant's own days, from its book and never from readings: mean demand and delivery, NL/min; purity of the product at mid-band, share. Null where nothing was delivered. */
export type DayBook = { readonly demandNLPerMin: readonly number[]; readonly deliveryNLPerMin: readonly (number | null)[]; readonly nitrogen: readonly (number | null)[] };
/** As it was, and where it had faults as it would have been without them: the same weather, the same dice. */
export type TrueDays = { readonly startMs: number; readonly was: DayBook; readonly without?: DayBook };

/** What a fault did to a day, as it was against without: ln of demand and of delivery, and nitrogen as a difference; null where one of both is missing. */
export type DayEffect = { readonly demand: number | null; readonly delivery: number | null; readonly nitrogen: number | null };

/** The effects of the whole days of a span, in order. */
export function effectsIn(days: TrueDays, fromMs: number, toMs: number): DayEffect[] {
  const { was, without, startMs } = days;
  if (without === undefined) return [];
  const first = Math.max(0, Math.ceil((fromMs - startMs) / DAY_MS));
  const end = Math.min(was.demandNLPerMin.length, without.demandNLPerMin.length, Math.floor((toMs - startMs) / DAY_MS));
  return Array.from({ length: Math.max(0, end - first) }, (_, index) => effectOf(was, without, first + index));
}

function effectOf(was: DayBook, without: DayBook, day: number): DayEffect {
  const nitrogen = [was.nitrogen[day], without.nitrogen[day]] as const;
  return { demand: logRatio(was.demandNLPerMin[day], without.demandNLPerMin[day]), delivery: logRatio(was.deliveryNLPerMin[day], without.deliveryNLPerMin[day]), nitrogen: typeof nitrogen[0] === 'number' && typeof nitrogen[1] === 'number' ? nitrogen[0] - nitrogen[1] : null };
}

/** Less than a thousandth of a litre a minute is nothing; a flow that has ceased is taken to be that. */
const LEAST_NL_PER_MIN = 1e-3;

function logRatio(was: number | null | undefined, without: number | null | undefined): number | null {
  if (typeof was !== 'number' || typeof without !== 'number' || without < LEAST_NL_PER_MIN) return null;
  return Math.log(Math.max(LEAST_NL_PER_MIN, was) / without);
}

/** Robust scatter of ln about its middle over all days of a series; `undefined` with fewer than 20. */
export function scatterOf(values: readonly (number | null)[]): number | undefined {
  const logs = values.flatMap((value) => (value !== null && value > 0 ? [Math.log(value)] : [])).sort((a, b) => a - b);
  if (logs.length < 20) return undefined;
  const middle = logs[logs.length >> 1]!;
  const away = logs.map((value) => Math.abs(value - middle)).sort((a, b) => a - b);
  // The median distance from the middle is 0.6745 of a normal distribution's sd.
  return away[away.length >> 1]! / 0.6745;
}
