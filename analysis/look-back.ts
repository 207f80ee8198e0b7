import type { Cycle, DayRow } from '../shared/cycle.ts';
import type { Entry } from '../shared/entry.ts';
import type { Finding } from '../shared/finding.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { Verification } from '../shared/review.ts';
import { DAY_MS, HOUR_MS, TICK_MS } from '../shared/time.ts';
import { earlyLook, lookByDays } from './verify/did-it-help.ts';

/** Looks by days go on for so long after a visit. */
const DAYS_LOOKED_MS = 15 * DAY_MS;
/** How far back an early look reads cycles. */
const CYCLES_BACK_MS = 17 * DAY_MS;

export type LookParams = {
  readonly generator: GeneratorKey;
  readonly entries: readonly Entry[];
  readonly history: readonly DayRow[];
  readonly findings: readonly Finding[];
  readonly tickMs: number;
  readonly dayClosed: boolean;
  /** Cycles from a time on, those of this tick included. */
  readonly cycles: (fromMs: number) => Promise<readonly Cycle[]>;
};

/**
 * The looks back at visits that are due at this tick: 4 h and 24 h after a service, or when it became known if that is later,
 * and whenever a day closes in the two weeks after it. They follow from what is stored, so that a tick that is run again
 * after a restart gives the same.
 */
export async function looksDue(params: LookParams): Promise<Verification[]> {
  const looks: Verification[] = [];
  for (const visit of params.entries) {
    if (visit.kind !== 'service' || visit.finishedAt === undefined) continue;
    const { generator, findings, tickMs: atMs } = params;
    const finishedMs = Date.parse(visit.finishedAt);
    for (const [look, hours] of [['4 h', 4], ['24 h', 24]] as const) {
      const dueMs = Math.max(finishedMs + hours * HOUR_MS, Date.parse(visit.recordedAt));
      if (dueMs < atMs - TICK_MS || dueMs >= atMs) continue;
      looks.push(earlyLook({ generator, visit, findings, atMs, look, cycles: await params.cycles(Date.parse(visit.startedAt) - CYCLES_BACK_MS) }));
    }
    if (params.dayClosed && atMs > finishedMs && atMs - finishedMs <= DAYS_LOOKED_MS + DAY_MS) looks.push(lookByDays({ generator, visit, findings, atMs, days: params.history }));
  }
  return looks;
}
