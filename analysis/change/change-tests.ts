import { normalDensity } from './normal.ts';

/** The likeliest place of one change and how surprising it is; `index` = count of values before it. */
export type ChangeTest = { readonly index: number; readonly statistic: number; readonly p: number };

/**
 * Pettitt's test for one change of level, by ranks: asks nothing of the distribution. `undefined` below 4 values.
 * Price: p, a little too large (cautious) below 40 values, and too small where neighbours hang together.
 * @see Pettitt 1979, Applied Statistics 28:126.
 */
export function pettitt(values: readonly number[]): ChangeTest | undefined {
  const n = values.length;
  if (n < 4) return undefined;
  let u = 0;
  let best = { index: 0, statistic: 0 };
  for (let k = 0; k < n - 1; k++) {
    for (let j = 0; j < n; j++) u += Math.sign((values[k] as number) - (values[j] as number));
    if (Math.abs(u) > best.statistic) best = { index: k + 1, statistic: Math.abs(u) };
  }
  return { ...best, p: Math.min(1, 2 * Math.exp((-6 * best.statistic ** 2) / (n ** 3 + n ** 2))) };
}

/**
 * The largest F of all splits into two levels that leave `trim` of the values at each end: the strongest test for one step
 * in normal noise. `undefined` below 8 values or without scatter.
 *
 * Price: p by Miller & Siegmund's approximation for long series; for 30 values or more it is right within a fifth up to p = 0.1
 * (simulated). A value above 1 is given as 1.
 *
 * @see Andrews 1993, Econometrica 61:821; Miller & Siegmund 1982, Biometrics 38:1011.
 */
export function supF(values: readonly number[], trim = 0.15): ChangeTest | undefined {
  if (!(trim > 0 && trim < 0.5)) throw new RangeError(`Cannot trim a series as trim must be between 0 and 0.5: current value is ${trim}`);
  const n = values.length;
  if (n < 8) return undefined;
  const mean = values.reduce((sum, value) => sum + value, 0) / n;
  const all = values.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  const margin = Math.max(2, Math.floor(trim * n));
  let sum = 0;
  let best = { index: 0, statistic: 0 };
  for (let k = 1; k <= n - margin; k++) {
    sum += (values[k - 1] as number) - mean;
    if (k < margin) continue;
    const between = (sum * sum * n) / (k * (n - k));
    const statistic = between / (Math.max(0, all - between) / (n - 2));
    if (statistic > best.statistic) best = { index: k, statistic };
  }
  if (!Number.isFinite(best.statistic) || best.index === 0) return undefined;
  const b = Math.sqrt(best.statistic);
  const span = 2 * Math.log((1 - trim) / trim);
  return { ...best, p: Math.min(1, normalDensity(b) * ((b - 1 / b) * span + 4 / b)) };
}
