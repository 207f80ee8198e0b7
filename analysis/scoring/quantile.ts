/** The value below which `share` of the values lie, linear between neighbours; `undefined` without values. @see Hyndman and Fan 1996, type 7. */
export function quantileOf(values: readonly number[], share: number): number | undefined {
  if (values.length === 0) return undefined;
  const sorted = [...values].sort((a, b) => a - b);
  const place = share * (sorted.length - 1);
  const below = sorted[Math.floor(place)]!;
  const above = sorted[Math.ceil(place)]!;
  // Two values beyond all bounds have no middle.
  return below === above ? below : below + (above - below) * (place - Math.floor(place));
}
