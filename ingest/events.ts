import type { GeneratorKey } from '../shared/ids.ts';
import type { LogEvent, PresenceEvent } from '../shared/log-event.ts';
import type { ReadingBatch } from '../shared/reading-batch.ts';
import type { Committed } from './commit.ts';

/** What was committed together, as events for analysis in order of receipt. */
export function eventsOf(kept: ReadingBatch, presence: readonly PresenceEvent[], quarantined: Committed['quarantined']): LogEvent[] {
  const counts = new Map<string, { generator: GeneratorKey; reason: string; count: number; atMs: number }>();
  for (const { generator, reason, receivedMs } of quarantined) {
    if (generator === null) continue;
    const name = `${generator} ${reason}`;
    const count = counts.get(name) ?? { generator: generator as GeneratorKey, reason, count: 0, atMs: receivedMs };
    count.count += 1;
    count.atMs = Math.max(count.atMs, receivedMs);
    counts.set(name, count);
  }
  const others: { atMs: number; event: LogEvent }[] = [...presence.map((event) => ({ atMs: event.atMs, event: { kind: 'presence', event } as const })), ...[...counts.values()].map((count) => ({ atMs: count.atMs, event: { kind: 'quarantine', ...count } as const }))];
  return [...splitBatch(kept, others.map(({ atMs }) => atMs)), ...others].sort((a, b) => a.atMs - b.atMs).map(({ event }) => event);
}

/** The batch in parts, so that what happened in between can be told in between. */
function splitBatch(batch: ReadingBatch, cutsMs: readonly number[]): { atMs: number; event: LogEvent }[] {
  const parts: { atMs: number; event: LogEvent }[] = [];
  const rows = batch.atMs.length;
  for (let from = 0; from < rows; ) {
    const next = Math.min(...cutsMs.filter((cutMs) => cutMs >= batch.receivedMs[from]!));
    let to = from;
    while (to < rows && batch.receivedMs[to]! <= next) to += 1;
    const part = { series: batch.series, seriesIndex: batch.seriesIndex.slice(from, to), atMs: batch.atMs.slice(from, to), value: batch.value.slice(from, to), quality: batch.quality.slice(from, to), receivedMs: batch.receivedMs.slice(from, to) };
    parts.push({ atMs: batch.receivedMs[to - 1]!, event: { kind: 'readings', batch: part } });
    from = to;
  }
  return parts;
}
