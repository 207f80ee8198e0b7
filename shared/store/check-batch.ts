import type { ReadingBatch } from '../reading-batch.ts';

/** Start of the year 10000: device times are 1970 to 9999, so that a month always has a name of seven signs. */
const END_OF_TIME_MS = 253_402_300_800_000;

/**
 * What every reading store demands of a batch before it touches anything: columns of one length,
 * whole milliseconds (two stores would else round a key differently), and finite values.
 *
 * @throws {RangeError} naming the first row that is wrong; a decoder must have refused it before.
 */
export function checkBatch(batch: ReadingBatch): void {
  const rows = batch.atMs.length;
  for (const name of ['seriesIndex', 'value', 'quality', 'receivedMs'] as const) {
    if (batch[name].length !== rows) throw new RangeError(`Cannot keep batch as column ${name} must have ${rows} rows: current value is ${batch[name].length}`);
  }
  for (let row = 0; row < rows; row += 1) {
    if (batch.seriesIndex[row]! >= batch.series.length) throw new RangeError(`Cannot keep row ${row} as seriesIndex must be below ${batch.series.length}: current value is ${batch.seriesIndex[row]}`);
    if (!Number.isSafeInteger(batch.atMs[row]) || batch.atMs[row]! < 0 || batch.atMs[row]! >= END_OF_TIME_MS) throw new RangeError(`Cannot keep row ${row} as atMs must be whole milliseconds of the years 1970 to 9999: current value is ${batch.atMs[row]}`);
    if (!Number.isSafeInteger(batch.receivedMs[row])) throw new RangeError(`Cannot keep row ${row} as receivedMs must be whole milliseconds: current value is ${batch.receivedMs[row]}`);
    if (!Number.isFinite(batch.value[row])) throw new RangeError(`Cannot keep row ${row} as value must be finite: current value is ${batch.value[row]}`);
  }
}
