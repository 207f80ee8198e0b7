// Keeps numbered batches until it is killed, and prints the number of each once the store has acknowledged it.
// node append-until-killed.mjs readings FOLDER FIRST | records FILE FIRST. Runs on the build, as the product does.
import { writeSync } from 'node:fs';
import { cycleOf, readingsOfBatch, dayOf, monthsPassed } from './numbered-batches.mjs';

const [, , what, place = '', first = '0'] = process.argv;
const build = new URL('../../../.build/shared/', import.meta.url);
const silent = { info() {}, warn() {}, error() {} };

if (what === 'readings') {
  const { openDuckdbReadings } = await import(new URL('store/duckdb-readings.js', build).href);
  const { readingBatch } = await import(new URL('reading-batch.js', build).href);
  const store = await openDuckdbReadings({ folder: place, memoryMB: 256, threads: 2, log: silent });
  let tidying = Promise.resolve();
  for (let number = Number(first); ; number += 1) {
    await store.append(readingBatch(readingsOfBatch(number)));
    writeSync(1, `${number}\n`);
    // Sorting goes on beside the appends, so that some of the kills hit it.
    if (number % 10 === 0) tidying = tidying.then(() => store.tidy(monthsPassed(number)));
  }
} else {
  const { openSqliteRecords } = await import(new URL('store/sqlite-records.js', build).href);
  const store = await openSqliteRecords({ file: place });
  for (let number = Number(first); ; number += 1) {
    await store.saveAnalysis({ tickMs: number, replaced: [], days: [dayOf(number)], cycles: Array.from({ length: 50 }, (_, index) => cycleOf(number, index)), findings: [], checkpoints: [], hotStates: [] });
    await store.markDirty(['quay-7/gen-1'], number * 600_000);
    writeSync(1, `${number}\n`);
  }
}
