import type { DayBook } from '../../analysis/scoring/true-days.ts';
import { DAY_MS } from '../../shared/time.ts';
import type { GeneratorState } from '../../simulator/generator-state.ts';
import type { GeneratorScenario } from '../../simulator/scenario.ts';
import { stepWorld, type World } from '../../simulator/world.ts';
import { type DailyMeters, dailyMeters } from './score-run-meters.ts';

/** What a generator would have run and done each day without its faults. */
export type Twin = { readonly runS: readonly number[]; readonly book: DayBook };
/** To be asked at the start and at the end of each day. */
export type TwinMaker = { note(day: number): void; twins(meters: DailyMeters, days: number): Map<string, Twin> };

/** A generator runs ahead of its world by a beat or two; a fault that near must not be in its twin yet. */
const AHEAD_DAYS = 0.02;

/**
 * Twins of the generators with faults: the same weather, the same dice, nothing sent, and no fault. Until the first fault the
 * two are one, so a twin is copied the day before and lives on alone: half of its life is saved, and what was before the
 * fault is equal to the last digit.
 */
export function startTwins(world: World): TwinMaker {
  const copied = new Map<number, { readonly day: number; readonly state: GeneratorState }>();
  return {
    note(day) {
      world.scenario.generators.forEach((one, index) => {
        if (firstFaultDay(one) === day) copied.set(index, { day, state: structuredClone(world.generators[index]!) });
      });
    },
    twins(meters, days) {
      return new Map([...copied].map(([index, { day, state }]): [string, Twin] => [world.scenario.generators[index]!.key, lived(world, world.scenario.generators[index]!, day, state, days, before(meters, index, day))]));
    },
  };
}

/** The whole day at whose end a twin is copied; `undefined` without a fault. */
function firstFaultDay({ faults }: GeneratorScenario): number | undefined {
  return faults.length === 0 ? undefined : Math.max(0, Math.floor(Math.min(...faults.map((fault) => fault.fromDay)) - AHEAD_DAYS));
}

function before(meters: DailyMeters, index: number, day: number): Twin {
  const book = meters.books[index]!;
  return { runS: meters.runS[index]!.slice(0, day), book: { demandNLPerMin: book.demandNLPerMin.slice(0, day), deliveryNLPerMin: book.deliveryNLPerMin.slice(0, day), nitrogen: book.nitrogen.slice(0, day) } };
}

function lived({ scenario, seed, startMs }: World, generator: GeneratorScenario, fromDay: number, state: GeneratorState, days: number, past: Twin): Twin {
  const twin: World = { scenario: { ...scenario, generators: [{ ...generator, faults: [], channels: [] }] }, seed, startMs, nowMs: startMs + fromDay * DAY_MS, generators: [{ ...state, pending: [], nextLookMs: Infinity }] };
  const meters = dailyMeters(twin);
  for (let day = fromDay + 1; day <= days; day += 1) {
    stepWorld(twin, startMs + day * DAY_MS);
    meters.note();
  }
  const [book, runS] = [meters.books[0]!, meters.runS[0]!];
  return {
    runS: [...past.runS, ...runS],
    book: { demandNLPerMin: [...past.book.demandNLPerMin, ...book.demandNLPerMin], deliveryNLPerMin: [...past.book.deliveryNLPerMin, ...book.deliveryNLPerMin], nitrogen: [...past.book.nitrogen, ...book.nitrogen] },
  };
}
