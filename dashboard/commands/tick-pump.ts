import type { LogEvent } from '../../shared/log-event.ts';
import { TICK_MS } from '../../shared/time.ts';
import type { AnalysisLink } from './analysis-link.ts';

/** How often we look whether a tick is due, wall ms. A tick's result may be seen so much later. */
const LOOK_EVERY_MS = 100;

export type TickPump = {
  /** What a person did: it is told to analysis in its place among the readings. */
  tell(atMs: number, event: LogEvent): void;
  stop(): Promise<void>;
};

/**
 * Run the ticks of the clock: a whole 10 minutes is looked at once all that was received before it is committed.
 * People's events wait until nothing can be received earlier any more, so that live and replay see one order.
 */
export function startTickPump(params: { readonly link: AnalysisLink; committedThroughMs(): number; onTick(): void; onFailure(error: Error): void }): TickPump {
  const { link } = params;
  let held: { readonly atMs: number; readonly event: LogEvent }[] = [];
  let advancedMs = link.lastTickMs();
  let running: Promise<void> | undefined;
  const look = async (): Promise<void> => {
    const throughMs = params.committedThroughMs();
    const due = held.filter((one) => one.atMs < throughMs).sort((a, b) => a.atMs - b.atMs);
    held = held.filter((one) => one.atMs >= throughMs);
    for (const { event } of due) link.feed(event);
    const tickMs = Math.floor(throughMs / TICK_MS) * TICK_MS;
    if (tickMs <= advancedMs) return;
    advancedMs = tickMs;
    await link.advanceTo(tickMs);
    params.onTick();
  };
  const timer = setInterval(() => {
    running ??= look()
      .catch((error: unknown) => params.onFailure(error instanceof Error ? error : new Error(String(error))))
      .finally(() => {
        running = undefined;
      });
  }, LOOK_EVERY_MS);
  return {
    tell: (atMs, event) => void held.push({ atMs, event }),
    async stop() {
      clearInterval(timer);
      await running;
    },
  };
}
