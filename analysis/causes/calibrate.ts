import type { Condition } from './condition.ts';

/*
 * How often a condition of a kind was right, by what its own weighing said of it: measured on tuning worlds (odd seeds from
 * 30001 and 40001 on, healthy and faulty fleets in equal parts; tests/worlds/README.md). The weighing compares causes with
 * each other and knows nothing of what is no fault at all: a wander, a season, something that happened beside it.
 */
const RIGHT_SHARE: Readonly<Record<Condition['slot'], { readonly named: number; readonly group: number }>> = {
  demand: { named: 0.8, group: 0.8 },
  delivery: { named: 0.8, group: 0.85 },
  duty: { named: 0.6, group: 0.75 },
  running: { named: 0.95, group: 0.8 },
  supply: { named: 0.98, group: 0.9 },
  power: { named: 1, group: 1 },
  data: { named: 0.9, group: 0.9 },
  counters: { named: 0.95, group: 0.95 },
  sensor: { named: 0.92, group: 0.85 },
  'set-point': { named: 0.8, group: 0.8 },
};

/** The same condition, as sure as such ones have been right; what is taken away goes to `undetermined`, which stands last. */
export function calibrated(condition: Condition): Condition {
  const share = RIGHT_SHARE[condition.slot][condition.among === null ? 'named' : 'group'];
  const causes = condition.causes.filter((one) => one.cause !== 'undetermined').map(({ cause, probability }) => ({ cause, probability: rounded(probability * share) }));
  const left = rounded(1 - causes.reduce((sum, one) => sum + one.probability, 0));
  return { ...condition, causes: left > 0 ? [...causes, { cause: 'undetermined', probability: left }] : causes };
}

const rounded = (value: number): number => Math.round(value * 1000) / 1000;
