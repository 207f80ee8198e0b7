import type { AnalysisSettings } from '../../shared/analysis-settings.ts';
import type { RankingReport } from '../../shared/finding.ts';
import type { LogEvent } from '../../shared/log-event.ts';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';

/*
 * What the main thread and the analysis worker say to each other. The main thread owns the reading store
 * (one process, one connection may hold its file); the worker has its own connection to the records.
 */

/** What the worker is started with. */
export type WorkerStart = { readonly recordsFile: string; readonly settings: AnalysisSettings };

export type ToWorker =
  | { readonly kind: 'event'; readonly event: LogEvent }
  | { readonly kind: 'advance'; readonly id: number; readonly receivedMs: number }
  | { readonly kind: 'save'; readonly id: number }
  | { readonly kind: 'close' }
  /** Jobs wait in the record store; they are answered beside the fold. */
  | { readonly kind: 'jobs'; readonly nowMs: number }
  | { readonly kind: 'answer'; readonly id: number; readonly batch: ReadingBatch | null; readonly error?: string };

export type FromWorker =
  | { readonly kind: 'ready'; readonly lastTickMs: number; readonly report: RankingReport }
  /** An event is folded; its weight may be handed out again. */
  | { readonly kind: 'taken'; readonly weight: number }
  | { readonly kind: 'done'; readonly id: number; readonly lastTickMs: number; readonly report: RankingReport }
  | { readonly kind: 'log'; readonly level: 'info' | 'warn' | 'error'; readonly message: string; readonly fields: Readonly<Record<string, unknown>> }
  | { readonly kind: 'read'; readonly id: number; readonly query: Parameters<ReadingStore['byDeviceTime']>[0] }
  /** Ask for the next batch of a log read under this id; the first time with its query. Null answers its end. */
  | { readonly kind: 'read-log'; readonly id: number; readonly query?: Parameters<ReadingStore['byReceipt']>[0] }
  | { readonly kind: 'stop-log'; readonly id: number }
  | { readonly kind: 'failed'; readonly message: string; readonly stack: string }
  | { readonly kind: 'closed' };

/** How much an event counts against the bound on what may wait: readings by their number, all else as one. */
export function weightOf(event: LogEvent): number {
  return event.kind === 'readings' ? Math.max(1, event.batch.atMs.length) : 1;
}

/** The buffers of a batch, to be moved instead of copied; whoever moves them can't read the batch any more. An empty batch may be a shared constant and is copied. */
export function buffersOf(batch: ReadingBatch | null): ArrayBuffer[] {
  if (batch === null || batch.atMs.length === 0) return [];
  return [...new Set([batch.seriesIndex, batch.atMs, batch.value, batch.quality, batch.receivedMs].map((column) => column.buffer))] as ArrayBuffer[];
}
