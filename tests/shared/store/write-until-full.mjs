// Keeps numbered batches under a limit of file size, as on a full disk, until the store refuses; then the limit is lifted,
// the same batch repeated, another added, and the process killed. Prints what happened, a JSON line each.
// bash -c "trap '' XFSZ; ulimit -S -f BLOCKS; exec node write-until-full.mjs readings FOLDER"
import { execFileSync } from 'node:child_process';
import { writeSync } from 'node:fs';
import { cycleOf, dayOf, readingsOfBatch } from './numbered-batches.mjs';

const [, , what, place = '', logMB = '16'] = process.argv;
const build = new URL('../../../.build/shared/', import.meta.url);
const say = (event) => writeSync(1, `${JSON.stringify(event)}\n`);

const keep = what === 'readings' ? await keepReadings() : await keepRecords();
let number = 0;
for (let failures = 0; failures < 3; ) {
  try {
    await keep(number);
    number += 1;
  } catch (error) {
    failures += 1;
    say({ number, failed: error.name, says: error.message });
  }
}
execFileSync('prlimit', ['--pid', String(process.pid), '--fsize=unlimited']);
say({ number, repeated: await keep(number) });
say({ number: number + 1, repeated: await keep(number + 1) });
process.kill(process.pid, 'SIGKILL');

async function keepReadings() {
  const { openDuckdbReadings } = await import(new URL('store/duckdb-readings.js', build).href);
  const { readingBatch } = await import(new URL('reading-batch.js', build).href);
  const store = await openDuckdbReadings({ folder: place, memoryMB: 128, threads: 1, logMB: Number(logMB), log: { info() {}, warn() {}, error() {} } });
  return async (batch) => (await store.append(readingBatch(readingsOfBatch(batch)))).kept.atMs.length;
}

async function keepRecords() {
  const { openSqliteRecords } = await import(new URL('store/sqlite-records.js', build).href);
  const store = await openSqliteRecords({ file: place });
  return async (batch) => {
    await store.saveAnalysis({ tickMs: batch, replaced: [], days: [dayOf(batch)], cycles: Array.from({ length: 50 }, (_, index) => cycleOf(batch, index)), findings: [], checkpoints: [], hotStates: [] });
    return (await store.days({ generator: 'quay-7/gen-1' })).length;
  };
}
