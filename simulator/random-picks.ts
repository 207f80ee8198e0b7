import { type Dice, uniform } from './plant/random.ts';

/** One of a list, each as likely. @throws {RangeError} of an empty list. */
export function pick<T>(dice: Dice, list: readonly T[]): T {
  if (list.length === 0) throw new RangeError('Cannot pick as the list must hold something: current value is empty');
  return list[Math.floor(uniform(dice) * list.length)]!;
}

/** One of the names, as likely as its weight says. */
export function weighted<Name extends string>(dice: Dice, weights: Readonly<Record<Name, number>>): Name {
  const names = Object.keys(weights) as Name[];
  let left = uniform(dice) * names.reduce((sum, name) => sum + weights[name], 0);
  for (const name of names) {
    left -= weights[name];
    if (left < 0) return name;
  }
  return names.at(-1)!;
}

export function chance(dice: Dice, probability: number): boolean {
  return uniform(dice) < probability;
}
