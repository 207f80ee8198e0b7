import { setImmediate as nextTurn } from 'node:timers/promises';
import type { BandDay } from '../../shared/api.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { bandDaysOf } from '../views/band-days.ts';

const BAND_DAYS = 42;
/** Up to here a tick reads all days of all generators; beyond, only the newest and a share of the rest. */
const ALL_AT_ONCE = 500;
/** Older days change only when late readings arrive: the whole fleet is read again in this many ticks, an hour. */
const TURNS = 6;

/**
 * The rest bands of the fleet. Reading 42 days of 5,000 generators at every tick would hold up every answer for seconds,
 * so a large fleet is read in turns: the last days of all at each tick, all days of a sixth of them in between.
 */
export function createBandCache(records: RecordStore) {
  const bands = new Map<GeneratorKey, Map<string, BandDay>>();
  let turn = 0;

  function keep(key: GeneratorKey, days: readonly BandDay[]): void {
    const known = bands.get(key) ?? new Map<string, BandDay>();
    for (const day of days) known.set(day.day, day);
    const names = [...known.keys()].sort();
    for (const old of names.slice(0, Math.max(0, names.length - BAND_DAYS))) known.delete(old);
    bands.set(key, known);
  }

  async function readNewest(days: number): Promise<void> {
    const rows = new Map<GeneratorKey, BandDay[]>();
    for (const row of await records.recentDays(days)) {
      const list = rows.get(row.generator) ?? [];
      list.push(...bandDaysOf([row]));
      rows.set(row.generator, list);
    }
    for (const [key, list] of rows) keep(key, list);
  }

  return {
    /** Called once a tick, before rows are made. */
    async refresh(generators: readonly GeneratorKey[]): Promise<void> {
      if (bands.size === 0 || generators.length <= ALL_AT_ONCE) {
        await readNewest(BAND_DAYS);
        return;
      }
      await readNewest(2);
      const fromMs = (newest: string): number => Date.parse(`${newest}T00:00:00Z`) - BAND_DAYS * 86_400_000;
      for (const key of generators.filter((_, index) => index % TURNS === turn % TURNS)) {
        const newest = [...(bands.get(key)?.keys() ?? [])].sort().at(-1);
        if (newest === undefined) continue;
        keep(key, bandDaysOf(await records.days({ generator: key, fromMs: fromMs(newest) })));
        await nextTurn();
      }
      turn += 1;
    },
    of: (key: GeneratorKey): readonly BandDay[] => [...(bands.get(key)?.values() ?? [])],
  };
}
