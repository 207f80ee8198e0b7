/**
 * Dice that are plain JSON, so that a world can be put away and go on: xoshiro128** seeded by an FNV-1a hash of a
 * seed and a name. Each purpose has its own dice; a further sensor doesn't change when a compressor starts.
 * `spare` is the second normal of a Box-Muller pair; null when none is left.
 * @see Blackman and Vigna 2021, doi:10.1145/3460772 (public-domain reference code)
 */
export type Dice = { a: number; b: number; c: number; d: number; spare: number | null };

/** Dice for one purpose in the world of this seed. */
export function startDice(seed: number, name: string): Dice {
  let hash = 2166136261 ^ (seed | 0);
  for (let index = 0; index < name.length; index += 1) hash = Math.imul(hash ^ name.charCodeAt(index), 16777619);
  const next = (): number => {
    hash = (hash + 0x9e3779b9) | 0;
    let word = hash ^ (hash >>> 16);
    word = Math.imul(word, 0x21f0aaad);
    word ^= word >>> 15;
    word = Math.imul(word, 0x735a2d97);
    return (word ^ (word >>> 15)) >>> 0;
  };
  return { a: next(), b: next(), c: next(), d: next() | 1, spare: null };
}

/** The next number in [0, 1), 32 bits of it. */
export function uniform(dice: Dice): number {
  const times5 = Math.imul(dice.b, 5);
  const word = Math.imul((times5 << 7) | (times5 >>> 25), 9) >>> 0;
  const shifted = dice.b << 9;
  dice.c ^= dice.a;
  dice.d ^= dice.b;
  dice.b ^= dice.c;
  dice.a ^= dice.d;
  dice.c ^= shifted;
  dice.d = (dice.d << 11) | (dice.d >>> 21);
  return word / 4294967296;
}

/** A number from the standard normal distribution. */
export function normal(dice: Dice): number {
  if (dice.spare !== null) {
    const kept = dice.spare;
    dice.spare = null;
    return kept;
  }
  const radius = Math.sqrt(-2 * Math.log(1 - uniform(dice)));
  const angle = 2 * Math.PI * uniform(dice);
  dice.spare = radius * Math.sin(angle);
  return radius * Math.cos(angle);
}

/** A number in [low, high). */
export function between(dice: Dice, low: number, high: number): number {
  return low + (high - low) * uniform(dice);
}
