/** A seeded source of even numbers in 0..1: the same world at every run. Mulberry32 (public domain). */
export function seeded(seed: number): () => number {
  let state = seed | 0;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** Normal values from even ones. */
export function normals(random: () => number): () => number {
  return () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

/** Values with a correlation between neighbours, sd 1. */
export function correlated(normal: () => number, correlation: number): () => number {
  let last = normal();
  return () => (last = correlation * last + Math.sqrt(1 - correlation * correlation) * normal());
}
