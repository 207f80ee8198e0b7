import type { Bucket } from './reading-store.ts';

/** Equal spans over [fromMs, toMs). */
export type BucketSpan = { readonly fromMs: number; readonly toMs: number; readonly buckets: number };

/** @throws {RangeError} if the span is empty or the number of buckets isn't a whole number in 1..100,000. */
export function checkBucketSpan(span: BucketSpan): void {
  if (!(span.toMs > span.fromMs)) throw new RangeError(`Cannot draw buckets as toMs must be after fromMs: current value is ${span.toMs}`);
  if (!Number.isInteger(span.buckets) || span.buckets < 1 || span.buckets > 100_000) throw new RangeError(`Cannot draw buckets as their number must be 1..100000: current value is ${span.buckets}`);
}

/** The bucket of a time inside the span. The product is below 2^53 for any 200 years in 1,000 buckets, so that no store rounds otherwise. */
export function bucketOf(span: BucketSpan, atMs: number): number {
  return Math.floor(((atMs - span.fromMs) * span.buckets) / (span.toMs - span.fromMs));
}

/** Where a bucket starts; not always a whole millisecond. */
export function bucketStartMs(span: BucketSpan, bucket: number): number {
  return span.fromMs + (bucket * (span.toMs - span.fromMs)) / span.buckets;
}

/** Collects values that come in order of time into buckets; empty ones are left out. */
export function bucketsInOrder(span: BucketSpan, rows: Iterable<readonly [atMs: number, value: number]>): Bucket[] {
  const found: Bucket[] = [];
  let bucket = -1;
  let count = 0;
  let sum = 0;
  let min = Infinity;
  let max = -Infinity;
  const close = (): void => {
    if (count > 0) found.push({ fromMs: bucketStartMs(span, bucket), count, min, mean: sum / count, max });
  };
  for (const [atMs, value] of rows) {
    const here = bucketOf(span, atMs);
    if (here !== bucket) {
      close();
      bucket = here;
      count = 0;
      sum = 0;
      min = Infinity;
      max = -Infinity;
    }
    count += 1;
    sum += value;
    if (value < min) min = value;
    if (value > max) max = value;
  }
  close();
  return found;
}
