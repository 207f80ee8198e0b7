/*
 * The analysis as it runs in the product, on real windows of a compressor's loaded duty: healthy ones drawn at random must open
 * nothing, one high window must open nothing, leaking ones from some hour on must open a finding soon. Source of the data:
 * MetroPT-3 (UCI 791, CC BY 4.0), 4,662 windows of about two cycles, `is_anomaly` by the maintenance log. They are
 * shuffled: draws of them keep the real spread, not the order in time.
 */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { gunzipSync } from 'node:zlib';
import { openAnalysis } from '../../analysis/analysis.ts';
import { DEFAULT_ANALYSIS_SETTINGS } from '../../shared/analysis-settings.ts';
import type { Finding } from '../../shared/finding.ts';
import { parseGeneratorKey } from '../../shared/ids.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import { batchBuilder } from '../../shared/reading-batch.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import { seeded } from '../analysis/change/world.ts';
import { fixed, type Table } from './table.ts';

const START_MS = Date.UTC(2026, 0, 1);
const DAYS = 90;
const HEALTHY_DRAWS = 200;
const LEAK_DRAWS = 100;
const SPIKE_DRAWS = 100;

type Windows = { readonly healthy: readonly number[]; readonly leaking: readonly number[] };

function readWindows(file: string): Windows {
  const [head, ...lines] = gunzipSync(readFileSync(file)).toString('utf8').trim().split('\n').map((line) => line.trim().split(','));
  const [duty, anomaly] = [head?.indexOf('DV_eletric_mean') ?? -1, head?.indexOf('is_anomaly') ?? -1];
  const of = (leaks: boolean): number[] => lines.filter((line) => (line[anomaly]?.toLowerCase() === 'true') === leaks).map((line) => Number(line[duty]));
  return { healthy: of(false), leaking: of(true) };
}

/** Findings over 90 days of one duty value an hour, as it is given by the hour. */
async function findingsOf(dutyAt: (hour: number) => number): Promise<readonly Finding[]> {
  const key = parseGeneratorKey('train-line/gen-1');
  if (key === undefined) throw new Error('the key is well formed');
  const readings = openMemoryReadings();
  const builder = batchBuilder();
  for (let hour = 0; hour < DAYS * 24; hour++) builder.add({ generator: key, channel: 'duty' }, START_MS + hour * HOUR_MS, dutyAt(hour), 0, START_MS + hour * HOUR_MS + 1000);
  const batch = builder.take();
  await readings.append(batch);
  const analysis = await openAnalysis({ records: openMemoryRecords(), readings, settings: DEFAULT_ANALYSIS_SETTINGS, log: SILENT_LOG });
  await analysis.feed({ kind: 'readings', batch });
  await analysis.advanceTo(START_MS + DAYS * DAY_MS);
  return analysis.report().findings;
}

const picker = (seed: number) => {
  const random = seeded(seed);
  return { random, pick: (values: readonly number[]): number => values[Math.floor(random() * values.length)] as number };
};

async function openedHealthy({ healthy }: Windows): Promise<number> {
  let opened = 0;
  for (let seed = 1; seed <= HEALTHY_DRAWS; seed++) {
    const { pick } = picker(seed);
    opened += (await findingsOf(() => pick(healthy))).length;
  }
  return opened;
}

/** Findings that one hour at full duty adds to the same healthy draw. */
async function openedBySpike({ healthy }: Windows): Promise<number> {
  let opened = 0;
  for (let seed = 1001; seed < 1001 + SPIKE_DRAWS; seed++) {
    const draw = async (spikeHour: number): Promise<number> => {
      const { pick } = picker(seed);
      return (await findingsOf((hour) => { const value = pick(healthy); return hour === spikeHour ? 1 : value; })).length;
    };
    const hour = 30 * 24 + Math.floor(seeded(seed + 7)() * 50 * 24);
    opened += Math.max(0, (await draw(hour)) - (await draw(-1)));
  }
  return opened;
}

async function leakDelaysH({ healthy, leaking }: Windows): Promise<(number | undefined)[]> {
  const delays: (number | undefined)[] = [];
  for (let seed = 2001; seed < 2001 + LEAK_DRAWS; seed++) {
    const { pick } = picker(seed);
    const leakHour = 60 * 24 + (seed % 24);
    const leakMs = START_MS + leakHour * HOUR_MS;
    const found = (await findingsOf((hour) => pick(hour < leakHour ? healthy : leaking))).map((finding) => Date.parse(finding.openedAt)).filter((at) => at >= leakMs).sort((a, b) => a - b)[0];
    delays.push(found === undefined ? undefined : (found - leakMs) / HOUR_MS);
  }
  return delays;
}

export async function compressorWindows(folder: string): Promise<Table> {
  const windows = readWindows(path.join(folder, 'compressor_windows', 'windows.csv.gz'));
  const opened = await openedHealthy(windows);
  const spikes = await openedBySpike(windows);
  const delays = await leakDelaysH(windows);
  const found = delays.filter((delay) => delay !== undefined).sort((a, b) => a - b);
  const at = (p: number): string => fixed(found[Math.min(found.length - 1, Math.floor(p * found.length))] ?? NaN, 1);
  const years = (HEALTHY_DRAWS * DAYS) / 365;
  return {
    title: `Compressor windows: one value of real duty an hour for ${DAYS} days (${windows.healthy.length} healthy windows, ${windows.leaking.length} leaking)`,
    columns: ['figure', 'ours', 'bar'],
    rows: [
      [`false findings in ${fixed(years, 0)} healthy generator-years`, `${opened} (${fixed(opened / years, 3)} a year)`, '0.05 a year'],
      [`findings that one hour at full duty opened, ${SPIKE_DRAWS} draws`, spikes, '0'],
      ['leaks found', `${found.length} of ${delays.length}`, 'all'],
      ['delay, middle', `${at(0.5)} h`, '12 h, or 5 cycles if later'],
      ['delay, 90 %', `${at(0.9)} h`, '48 h'],
    ],
    notes: ['The windows are shuffled and independent, so that a day is the mean of 24 draws: easier than a record in its order.'],
  };
}
