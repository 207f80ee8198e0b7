import { channelRule } from '../shared/channels.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import { type Reading, type ReadingBatch, readingAt } from '../shared/reading-batch.ts';
import { readingsTopic } from '../shared/topics.ts';

/** One record of a SenML pack as our gateways send it. */
export type SenmlRecord = { bn?: string; bt?: number; n: string; u?: string; v?: number; vb?: boolean; t?: number };
/** A message as it arrives: topic, payload, receipt. */
export type Message = { readonly topic: string; readonly payload: readonly SenmlRecord[]; readonly atMs: number; readonly generator: GeneratorKey };

/** Factor from the unit that a channel is kept in to the one that a gateway sends; pressures go out in whole pascals. */
function sent(reading: Reading): Pick<SenmlRecord, 'u' | 'v' | 'vb'> {
  const rule = channelRule(reading.channel);
  if (rule.senmlUnit === null) return { vb: reading.value >= 0.5 };
  return { u: rule.senmlUnit, v: rule.senmlUnit === 'Pa' ? Math.round(reading.value * 1000) : reading.value };
}

/**
 * Readings of one generator as one SenML pack (RFC 8428): base name and base time in the first record, offsets after it.
 * @throws {RangeError} if there are none, or they are of several generators.
 */
export function toPack(readings: readonly Reading[]): SenmlRecord[] {
  const first = readings[0];
  if (first === undefined) throw new RangeError('Cannot make a pack as it must hold at least one reading: current value is none');
  return readings.map((reading, index) => {
    if (reading.generator !== first.generator) throw new RangeError(`Cannot make a pack as its readings must be of ${first.generator}: current value is ${reading.generator}`);
    const offsetS = Math.round(reading.atMs - first.atMs) / 1000;
    const base = index === 0 ? { bn: `${first.generator.replace('/', ':')}:`, bt: first.atMs / 1000 } : offsetS === 0 ? {} : { t: offsetS };
    return { ...base, n: reading.channel, ...sent(reading) };
  });
}

/** A batch of `stepWorld` as the messages in which it came: rows of one generator and one receipt are one pack. */
export function* messagesOf(batch: ReadingBatch): Generator<Message> {
  let row = 0;
  while (row < batch.atMs.length) {
    const pack = [readingAt(batch, row)];
    const { generator, receivedMs } = pack[0]!;
    for (row += 1; row < batch.atMs.length && batch.receivedMs[row] === receivedMs; row += 1) {
      const next = readingAt(batch, row);
      if (next.generator !== generator) break;
      pack.push(next);
    }
    yield { topic: readingsTopic(generator), payload: toPack(pack), atMs: receivedMs, generator };
  }
}
