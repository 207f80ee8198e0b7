// What batch number N holds: made anew by the child that keeps it and by the test that looks for it.
const START_MS = Date.UTC(2025, 0, 1);
const CHANNELS = ['tank-pressure', 'running', 'feed-pressure', 'room-temperature'];
export const ROWS_PER_BATCH = 2000;
/** 500 steps of 5 minutes and four channels a batch: a month passes every 18 batches. */
const STEP_MS = 300_000;

export function readingsOfBatch(number) {
  return Array.from({ length: ROWS_PER_BATCH }, (_, index) => {
    const step = number * (ROWS_PER_BATCH / 4) + (index >> 2);
    return { generator: 'quay-7/gen-1', channel: CHANNELS[index % 4], atMs: START_MS + step * STEP_MS, value: number + (index % 97) / 100, quality: 0, receivedMs: START_MS + number * 1000 };
  });
}

/** A time at which all months that batch `number` doesn't touch are closed. */
export function monthsPassed(number) {
  return START_MS + number * (ROWS_PER_BATCH / 4) * STEP_MS;
}

export function dayOf(number) {
  const startMs = START_MS + number * 86_400_000;
  return { generator: 'quay-7/gen-1', day: String(number), startMs, endMs: startMs + 86_400_000, heard: { running: number } };
}

export function cycleOf(number, index) {
  return { generator: 'quay-7/gen-1', startMs: START_MS + number * 86_400_000 + index * 1_700_000, runS: number, restS: index, source: 'running', cut: false, fallKPaPerMin: null, riseKPaPerMin: 1.5, startKPa: null, stopKPa: null };
}
