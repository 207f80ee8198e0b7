import { type Channel, channelRule } from '../shared/channels.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { Reading, ReadingBatch } from '../shared/reading-batch.ts';
import { readingsTopic } from '../shared/topics.ts';

/** One record of a SenML pack as our gateways send it. */
export type SenmlRecord = { bn?: string; bt?: number; n: string; u?: string; v?: number; vb?: boolean; t?: number };
/** A message as it arrives: topic, payload, receipt. */
export type Message = { readonly topic: string; readonly payload: readonly SenmlRecord[]; readonly atMs: number; readonly generator: GeneratorKey };

/** One record. Factor from the unit that a channel is kept in to the one that a gateway sends; pressures go out in whole pascals. */
function recordOf(channel: Channel, value: number, base: Pick<SenmlRecord, 'bn' | 'bt'> | undefined, offsetS: number): SenmlRecord {
  const { senmlUnit } = channelRule(channel);
  const record: SenmlRecord = base === undefined ? (offsetS === 0 ? { n: channel } : { t: offsetS, n: channel }) : { ...base, n: channel };
  if (senmlUnit === null) record.vb = value >= 0.5;
  else {
    record.u = senmlUnit;
    record.v = senmlUnit === 'Pa' ? Math.round(value * 1000) : value;
  }
  return record;
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
    return recordOf(reading.channel, reading.value, index === 0 ? baseOf(first.generator, first.atMs) : undefined, Math.round(reading.atMs - first.atMs) / 1000);
  });
}

function baseOf(generator: GeneratorKey, atMs: number): { bn: string; bt: number } {
  return { bn: `${generator.replace('/', ':')}:`, bt: atMs / 1000 };
}

/** A batch of `stepWorld` as the messages in which it came: rows of one generator and one receipt are one pack. */
export function* messagesOf(batch: ReadingBatch): Generator<Message> {
  const { series, seriesIndex, atMs, value, receivedMs } = batch;
  let row = 0;
  while (row < atMs.length) {
    const { generator } = series[seriesIndex[row]!]!;
    const firstMs = atMs[row]!;
    const receivedAtMs = receivedMs[row]!;
    const payload: SenmlRecord[] = [];
    for (; row < atMs.length && receivedMs[row] === receivedAtMs; row += 1) {
      const one = series[seriesIndex[row]!]!;
      if (one.generator !== generator) break;
      payload.push(recordOf(one.channel, value[row]!, payload.length === 0 ? baseOf(generator, firstMs) : undefined, Math.round(atMs[row]! - firstMs) / 1000));
    }
    yield { topic: readingsTopic(generator), payload, atMs: receivedAtMs, generator };
  }
}
