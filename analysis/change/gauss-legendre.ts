/**
 * Nodes and weights of the Gauss–Legendre rule on [from, to]: exact for polynomials of degree 2·count − 1.
 * @see Abramowitz & Stegun 1964, 25.4.29; nodes by Newton's method on the three-term recurrence.
 */
export function gaussLegendre(count: number, from: number, to: number): { readonly nodes: Float64Array; readonly weights: Float64Array } {
  const nodes = new Float64Array(count);
  const weights = new Float64Array(count);
  const half = (to - from) / 2;
  for (let i = 0; i < Math.ceil(count / 2); i++) {
    let x = Math.cos((Math.PI * (i + 0.75)) / (count + 0.5));
    let slope = 1;
    for (let round = 0; round < 100; round++) {
      const [value, derivative] = legendre(count, x);
      slope = derivative;
      const move = value / derivative;
      x -= move;
      if (Math.abs(move) < 1e-15) break;
    }
    slope = legendre(count, x)[1];
    const weight = (2 * half) / ((1 - x * x) * slope * slope);
    nodes[i] = from + half * (1 - x);
    nodes[count - 1 - i] = to - half * (1 - x);
    weights[i] = weight;
    weights[count - 1 - i] = weight;
  }
  return { nodes, weights };
}

/** Legendre polynomial of a degree and its derivative at x. */
function legendre(degree: number, x: number): [number, number] {
  let before = 1;
  let value = x;
  for (let k = 2; k <= degree; k++) [before, value] = [value, ((2 * k - 1) * x * value - (k - 1) * before) / k];
  return [value, (degree * (x * value - before)) / (x * x - 1)];
}
