// What the stores do in a second, on this machine: node tests/bench/store.mjs [millions of readings, default 8]
// Runs on the build (npm run build). Not part of the tests: a busy machine makes every figure worse.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { batchBuilder } from '../../.build/shared/reading-batch.js';
import { openDuckdbReadings } from '../../.build/shared/store/duckdb-readings.js';
import { openMemoryReadings } from '../../.build/shared/store/memory-readings.js';
import { openSqliteRecords } from '../../.build/shared/store/sqlite-records.js';

const DAY_MS = 86_400_000;
const START_MS = Date.UTC(2026, 0, 1);
const BATCH_ROWS = 70_000;
const CHANNELS = ['running', 'tank-pressure', 'discharge-pressure', 'feed-pressure', 'nitrogen', 'room-temperature'];
const rows = Math.round(Number(process.argv[2] ?? 8) * 1e6);
const folder = mkdtempSync(join(tmpdir(), 'lull-bench-'));

try {
  await benchReadings('DuckDB', await openDuckdbReadings({ folder, memoryMB: 512, threads: 2, log: console }));
  await benchReadings('memory', openMemoryReadings());
  await benchRecords(await openSqliteRecords({ file: join(folder, 'records.sqlite') }));
} finally {
  rmSync(folder, { recursive: true, force: true });
}

/** A year of one generator every 5 minutes among as many generators as the rows allow, values rounded as sensors give them. */
async function benchReadings(name, store) {
  const stepsAYear = 365 * 288;
  const series = Math.max(CHANNELS.length, Math.round(rows / stepsAYear));
  const builder = batchBuilder();
  let appendMs = 0;
  let kept = 0;
  const keep = async () => {
    const batch = builder.take();
    const from = performance.now();
    kept += (await store.append(batch)).kept.atMs.length;
    appendMs += performance.now() - from;
  };
  for (let step = 0; step < stepsAYear; step += 1) {
    const atMs = START_MS + step * 300_000;
    for (let one = 0; one < series; one += 1) {
      const generator = `site-${Math.floor(one / CHANNELS.length)}/gen-1`;
      builder.add({ generator, channel: CHANNELS[one % CHANNELS.length] }, atMs, valueOf(one, step), 0, atMs + 1500);
    }
    if (builder.length >= BATCH_ROWS) await keep();
  }
  await keep();
  say(name, `${kept} readings of ${series} series, ${Math.round(kept / (appendMs / 1000))} rows/s, ${((await store.sizeBytes()) / kept).toFixed(1)} bytes/reading`);
  await benchQueries(name, store);
  if (store.tidy !== undefined) {
    say(name, `tidy: ${Math.round(await timed(() => store.tidy(START_MS + 500 * DAY_MS)))} ms, then ${((await store.sizeBytes()) / kept).toFixed(1)} bytes/reading, space to be used again included`);
    await benchQueries(`${name}, sorted`, store);
  }
  await benchSmallBatches(name, store, rows > 0 ? CHANNELS : []);
  await store.close();
}

async function benchQueries(name, store) {
  const generator = 'site-0/gen-1';
  const year = { fromMs: START_MS, toMs: START_MS + 365 * DAY_MS };
  const buckets = () => store.buckets({ generator, channel: 'tank-pressure', ...year, buckets: 500 });
  const whole = () => store.byDeviceTime({ generator, ...year });
  const day = () => store.byDeviceTime({ generator, fromMs: START_MS + 100 * DAY_MS, toMs: START_MS + 101 * DAY_MS });
  say(name, `a year of one channel in 500 buckets: ${await best(buckets)}; a year of one generator, raw: ${await best(whole)}; one day of it: ${await best(day)}; latest of all: ${await best(() => store.latest())}`);
  const wholeLog = await timed(async () => {
    for await (const batch of store.byReceipt({ fromMs: 0, toMs: Infinity })) void batch;
  });
  say(name, `the whole log by receipt: ${Math.round(wholeLog)} ms`);
}

/** As they come from gateways: a pack of six readings each. */
async function benchSmallBatches(name, store, channels) {
  const commits = 500;
  const builder = batchBuilder();
  const spent = await timed(async () => {
    for (let index = 0; index < commits; index += 1) {
      const atMs = START_MS + 366 * DAY_MS + index * 1000;
      for (const channel of channels) builder.add({ generator: 'site-0/gen-1', channel }, atMs, index, 0, atMs);
      await store.append(builder.take());
    }
  });
  say(name, `batches of ${channels.length}: ${Math.round(commits / (spent / 1000))} a second`);
}

async function benchRecords(store) {
  const estimate = { value: 1.234_567, se: 0.012 };
  const generators = Array.from({ length: 40 }, (_, index) => `site-${index}/gen-1`);
  let written = 0;
  const spent = await timed(async () => {
    for (const generator of generators) {
      const days = Array.from({ length: 120 }, (_, index) => ({ generator, day: String(index), startMs: START_MS + index * DAY_MS, endMs: START_MS + (index + 1) * DAY_MS, dutyRatio: 0.1, unit: 'NL/min', demand: estimate, delivery: estimate, nitrogen: estimate, dischargeKPa: estimate, feedKPa: estimate, elementDropKPa: estimate, heard: { running: 288, 'tank-pressure': 288 } }));
      const cycles = Array.from({ length: 2500 }, (_, index) => ({ generator, startMs: START_MS + index * 3_600_000, runS: 400, restS: 3000, source: 'running', cut: false, fallKPaPerMin: 3.5, riseKPaPerMin: 20.1, startKPa: 550, stopKPa: 700 }));
      await store.saveAnalysis({ tickMs: 1, replaced: [{ generator, fromMs: 0 }], days, cycles, findings: [], checkpoints: [], hotStates: [] });
      written += days.length + cycles.length;
    }
  });
  say('SQLite', `saveAnalysis: ${Math.round(written / (spent / 1000))} rows/s`);
  say('SQLite', `recentDays(42) of 40 generators: ${await best(() => store.recentDays(42))}`);
  const marks = 20_000;
  say('SQLite', `markDirty, nothing new: ${((await timed(() => markAgain(store, marks))) / marks * 1000).toFixed(1)} µs`);
  await store.close();
}

async function markAgain(store, times) {
  for (let index = 0; index < times; index += 1) await store.markDirty(['site-0/gen-1'], START_MS + index);
}

function valueOf(one, step) {
  const kind = one % CHANNELS.length;
  if (kind === 0) return (step + one) % 9 === 0 ? 1 : 0;
  if (kind === 4) return Math.round(9800 + 20 * Math.sin(step / 50 + one)) / 10_000;
  return Math.round((600 + 70 * Math.sin(step / 7 + one)) * 10) / 10;
}

async function timed(work) {
  const from = performance.now();
  await work();
  return performance.now() - from;
}

/** The first call, and the best of the next five. */
async function best(work) {
  const first = await timed(work);
  const others = [];
  for (let index = 0; index < 5; index += 1) others.push(await timed(work));
  return `${first.toFixed(1)} ms, then ${Math.min(...others).toFixed(1)} ms`;
}

function say(name, text) {
  console.log(`${name}: ${text}`);
}
