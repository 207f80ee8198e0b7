import type { Clock } from '../shared/time.ts';

const SECONDS = 60;

/** Readings committed in the last minute, counted second by second. */
export type RateCounter = { add(count: number): void; perMinute(): number };

export function createRateCounter(clock: Clock): RateCounter {
  const counts = new Map<number, number>();
  const second = (): number => Math.floor(clock.nowMs() / 1000);
  const trim = (now: number): void => {
    for (const at of counts.keys()) if (at <= now - SECONDS || at > now) counts.delete(at);
  };
  return {
    add(count) {
      const now = second();
      counts.set(now, (counts.get(now) ?? 0) + count);
      if (counts.size > SECONDS) trim(now);
    },
    perMinute() {
      trim(second());
      return [...counts.values()].reduce((sum, count) => sum + count, 0);
    },
  };
}
