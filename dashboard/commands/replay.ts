import { resolve } from 'node:path';
import { openAnalysis } from '../../analysis/analysis.ts';
import { importRecording as readRecording } from '../../ingest/import-recording.ts';
import type { RankingReport } from '../../shared/finding.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import { msFromIso } from '../../shared/time.ts';
import { type Context, defineCommand, UsageError } from './command.ts';
import { readConfiguration } from './configuration.ts';
import { refuseNoRecording } from './import.ts';
import { forgetsReadings } from './forget-readings.ts';
import { keepEvent } from './keep-event.ts';
import { logTo } from './log-lines.ts';
import { sayProblems } from './say-problems.ts';
import { findingsTable } from './show-report.ts';

export const replay = defineCommand({
  name: 'replay',
  summary: 'fold a recording again from its beginning, in memory, and show what would have been found',
  wants: ['FOLDER'],
  options: {
    until: { type: 'string', value: 'ISO', says: 'as it was known then: nothing received at or after this' },
    json: { type: 'boolean', says: 'the whole report as one JSON object' },
    all: { type: 'boolean', says: 'closed findings too (in JSON they always are)' },
    speed: { type: 'string', value: 'report', says: 'with "report": say how fast it went and how much memory it took' },
  },
  example: 'npx --no-install lull replay recordings/spring --until 2026-05-01T00:00:00Z --speed report',
  more: 'Nothing is written: neither into the data folder nor into the recording. The settings of the analysis are the configured ones.',
  async run(values, given, context) {
    if (values.speed !== undefined && values.speed !== 'report') throw new UsageError(`--speed must be "report": current value is ${JSON.stringify(values.speed)}`);
    const untilMs = values.until === undefined ? undefined : msFromIso(values.until);
    if (values.until !== undefined && untilMs === undefined) throw new UsageError(`--until must be a time in ISO 8601: current value is ${JSON.stringify(values.until)}`);
    const folder = resolve(context.folder, given[0] ?? '');
    refuseNoRecording(folder);
    const startedMs = context.clock.nowMs();
    const { report, readings } = await foldAgain(folder, untilMs, context);
    const seconds = Math.max(0.001, (context.clock.nowMs() - startedMs) / 1000);
    context.terminal.clearProgress();
    context.terminal.out(values.json === true ? JSON.stringify(report, null, 2) : findingsTable(report, context.terminal.columns, values.all === true));
    if (values.speed === 'report') context.terminal.say(`${readings} readings in ${seconds.toFixed(1)} s: ${Math.round(readings / seconds)} readings/s, at most ${Math.round(process.resourceUsage().maxRSS / 1024)} MB`);
  },
});

async function foldAgain(folder: string, untilMs: number | undefined, context: Context): Promise<{ readonly report: RankingReport; readonly readings: number }> {
  const { config } = readConfiguration(context.environment, context.folder);
  const stopping = context.stopSignal();
  const readings = openMemoryReadings();
  const records = openMemoryRecords();
  const log = logTo(context.terminal, context.clock, (context.environment['LULL_DEBUG'] ?? '') !== '');
  const analysis = await openAnalysis({ records, readings, settings: config.analysis, log, ...(untilMs === undefined ? {} : { untilMs }) });
  const forget = forgetsReadings(readings, analysis);
  const recording = readRecording({ folder, nowMs: context.clock.nowMs() });
  let count = 0;
  for await (const event of recording.events) {
    if (stopping.aborted) throw new Error('stopped');
    const kept = await keepEvent(event, readings, records);
    await analysis.feed(kept);
    if (kept.kind !== 'readings') continue;
    count += kept.batch.atMs.length;
    context.terminal.progress('replaying', undefined, `${count} readings`);
    await forget();
    if (untilMs !== undefined && (kept.batch.receivedMs.at(-1) ?? 0) >= untilMs) break;
  }
  if (untilMs !== undefined) await analysis.advanceTo(untilMs);
  await analysis.save();
  sayProblems(recording.problems, context);
  return { report: analysis.report(), readings: count };
}
