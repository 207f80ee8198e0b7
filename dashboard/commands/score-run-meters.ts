import type { DayBook } from '../../analysis/scoring/true-days.ts';
import { onCurve } from '../../simulator/plant/delivery-curve.ts';
import { atmosphereKPa } from '../../simulator/plant/gas.ts';
import { motorOf } from '../../simulator/plant/motor.ts';
import { MINUTE_MS, type PlantSpec, type PlantState } from '../../simulator/plant/plant-state.ts';
import type { World } from '../../simulator/world.ts';

/** What the plants of a world really did, day by day, from their own books. */
export type DailyMeters = { readonly runS: readonly (readonly number[])[]; readonly books: readonly DayBook[]; /** To be called when a day is over. */ note(): void };

type Grown = { demandNLPerMin: number[]; deliveryNLPerMin: (number | null)[]; nitrogen: (number | null)[] };
type Before = { atMs: number; runS: number; gone: number; product: number; flowMin: number };

export function dailyMeters(world: World): DailyMeters {
  const runS: number[][] = world.generators.map(() => []);
  const books: Grown[] = world.generators.map(() => ({ demandNLPerMin: [], deliveryNLPerMin: [], nitrogen: [] }));
  const before = world.generators.map((one) => readMeters(one.plant));
  return {
    runS, books,
    note() {
      world.generators.forEach(({ plant }, index) => {
        const [last, now, book] = [before[index]!, readMeters(plant), books[index]!];
        runS[index]!.push(now.runS - last.runS);
        book.demandNLPerMin.push(digits((now.gone - last.gone) / Math.max(1e-9, (now.atMs - last.atMs) / MINUTE_MS)));
        const flowMin = now.flowMin - last.flowMin;
        book.deliveryNLPerMin.push(flowMin < 1 ? null : digits((now.product - last.product) / flowMin));
        book.nitrogen.push(nitrogenOf(plant, world.scenario.generators[index]!.plant));
        before[index] = now;
      });
    },
  };
}

function readMeters(plant: PlantState): Before {
  const { tankLeakNL, backNL, suppliedNL, productNL, flowMin } = plant.book;
  // Behind an air receiver the plant's own running is the membrane valve.
  return { atMs: plant.atMs, runS: motorOf(plant).runS, gone: tankLeakNL + backNL + suppliedNL, product: productNL, flowMin };
}

/**
 * Purity of the product in the middle of the band, of the last time that the train was settled; null before its first run.
 * That this has become outdated by midnight says nothing against it: while a fault grows it is outdated after each look.
 */
function nitrogenOf(plant: PlantState, spec: PlantSpec): number | null {
  if (plant.curve.lowAbsKPa === 0) return null;
  return digits(1 - onCurve(plant.curve, plant.curve.oxygen, (spec.cutInKPa + spec.cutOutKPa) / 2 + atmosphereKPa(spec.elevationM)));
}

/** Five digits: books of worlds are kept as text. */
const digits = (value: number): number => Number(value.toPrecision(5));
