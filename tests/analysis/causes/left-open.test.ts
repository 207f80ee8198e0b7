// Issue: a bleed left open is known by the end of the second full cycle after the visit (design, section 5, scoring rules).
import { describe, expect, test } from 'vitest';
import { leftOpen } from '../../../analysis/causes/left-open.ts';
import { rememberCycle, startRecentCycles, type RecentCycle, type RecentCycles } from '../../../analysis/causes/recent-cycles.ts';
import { entrySchema } from '../../../shared/entry.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../../shared/time.ts';

const VISIT_MS = Date.UTC(2026, 5, 1, 9);
const visit = entrySchema.parse({ id: 'v1', site: 'a', generator: 'b', startedAt: new Date(VISIT_MS).toISOString(), finishedAt: new Date(VISIT_MS + HOUR_MS).toISOString(), replaced: ['coalescing-element'] });

/** Thirty cycles of 6 and 54 min that scatter by 4 %, a refill after the visit, then what is given. */
function cycles(after: readonly (readonly [runS: number, restS: number])[], pressures = true): RecentCycles {
  const recent = startRecentCycles();
  const add = (startMs: number, runS: number, restS: number, startKPa: number): void => rememberCycle(recent, { generator: 'a/b' as GeneratorKey, startMs, runS, restS, source: 'running', cut: false, fallKPaPerMin: null, riseKPaPerMin: null, startKPa: pressures ? startKPa : null, stopKPa: pressures ? 700 : null });
  for (let index = 0; index < 30; index += 1) add(VISIT_MS - (31 - index) * HOUR_MS, 360 * (1 + 0.04 * Math.sin(3 * index)), 3240 * (1 + 0.04 * Math.cos(5 * index)), 550);
  let atMs = VISIT_MS + HOUR_MS + MINUTE_MS;
  for (const [index, [runS, restS]] of [[1500, 3240] as const, ...after].entries()) {
    add(atMs, runS, restS, index === 0 ? 0 : 550);
    atMs += (runS + restS) * 1000;
  }
  return recent;
}

const at = (frontierMs: number, heardMs: number | null = frontierMs, openCycle: RecentCycle | null = null) => ({ frontierMs, heardMs, openCycle, bleedSaid: [] });

describe('leftOpen()', () => {
  test('is silent where the cycles are as before, and after the refill and one odd cycle', () => {
    expect(leftOpen(cycles([[365, 3200], [350, 3300]]), [visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')).toEqual([]);
    expect(leftOpen(cycles([[700, 3240]]), [visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')).toEqual([]);
    expect(leftOpen(cycles([[700, 3240], [360, 3240]]), [visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')).toEqual([]);
  });

  test('is silent where every fourth run before was as long, and where the piping had run down and is filled again', () => {
    const odd = cycles([[440, 3240], [450, 3200]]);
    expect(leftOpen(odd, [visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')).toHaveLength(1);
    const before = odd.last.filter(([startMs]) => startMs < VISIT_MS);
    const habit = { ...odd, last: odd.last.map((cycle, index): RecentCycle => (index < before.length && index % 4 === 0 ? [cycle[0], 455, cycle[2], cycle[3], cycle[4]] : cycle)) };
    expect(leftOpen(habit, [visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')).toEqual([]);
    const drawn = cycles([[375, 700], [372, 650]]);
    expect(leftOpen(drawn, [visit], at(VISIT_MS + 3 * HOUR_MS), 'UTC')).toHaveLength(1);
    // It hadn't started for days.
    const [startMs, runS, , startKPa, stopKPa] = before.at(-1)!;
    const dry = { ...drawn, last: drawn.last.map((cycle): RecentCycle => (cycle[0] === startMs ? [startMs - 60 * HOUR_MS, runS, 61 * 3600, startKPa, stopKPa] : cycle)) };
    expect(leftOpen(dry, [visit], at(VISIT_MS + 3 * HOUR_MS), 'UTC')).toEqual([]);
  });

  test('is silent where two odd cycles come between usual ones: somebody drew air', () => {
    expect(leftOpen(cycles([[360, 3240], [380, 1500], [380, 1400]]), [visit], at(VISIT_MS + 6 * HOUR_MS), 'UTC')).toEqual([]);
    expect(leftOpen(cycles([[380, 1500], [380, 1400], [360, 3240]]), [visit], at(VISIT_MS + 6 * HOUR_MS), 'UTC')).toEqual([]);
  });

  test.each([[true], [false]])('names a bleed after two cycles with longer runs, or with shorter rests (pressures sent: %s)', (pressures) => {
    expect(leftOpen(cycles([[620, 3240], [640, 3200]], pressures), [visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')[0]).toMatchObject({ slot: 'delivery', cause: 'bleed-left-open', urgent: true });
    expect(leftOpen(cycles([[375, 1900], [372, 1850]], pressures), [visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')[0]).toMatchObject({ slot: 'demand', cause: 'bleed-left-open' });
  });

  test('is silent where runs come back to what they were: a repair was made, and its piping fills up', () => {
    const sealed = entrySchema.parse({ ...visit, replaced: ['o-rings'] });
    const after = (runs: readonly number[], service: typeof visit) => leftOpen(cycles(runs.map((runS) => [runS, 3240] as const)), [service], at(VISIT_MS + 6 * HOUR_MS), 'UTC').map((condition) => condition.slot);
    expect(after([900, 680, 480], sealed)).toEqual([]);
    expect(after([660, 640, 620], sealed)).toEqual(['delivery']);
    // A new membrane, or a new compressor, makes what it makes.
    for (const part of ['membrane', 'compressor', 'check-valve'] as const) expect(after([660, 640, 620], entrySchema.parse({ ...visit, replaced: [part] }))).toEqual([]);
    // A bleed after work on the elements is due by its second cycle, whatever its first took beside it.
    expect(after([600, 480], visit)).toEqual(['delivery']);
  });

  test('counts the cycle under way by the rest that its fall makes likely, beside one that has ended', () => {
    const under = (runS: number, restS: number): RecentCycle => [VISIT_MS + 3.5 * HOUR_MS, runS, restS, 550, 700];
    const found = (after: readonly (readonly [number, number])[], open: RecentCycle | null) => leftOpen(cycles(after), [visit], at(VISIT_MS + 4 * HOUR_MS, VISIT_MS, open), 'UTC').map((condition) => condition.slot);
    expect(found([[375, 1900]], null)).toEqual([]);
    expect(found([[375, 1900]], under(372, 1850))).toEqual(['demand']);
    expect(found([[640, 3240]], under(630, 3200))).toEqual(['delivery']);
    expect(found([[375, 1900]], under(372, 3240))).toEqual([]);
    expect(found([], under(372, 1850))).toEqual([]);
  });

  test('leaves it to quarters and days two days after the visit, and says nothing without one', () => {
    expect(leftOpen(cycles([[620, 3240], [640, 3200]]), [visit], at(VISIT_MS + 3 * DAY_MS), 'UTC')).toEqual([]);
    expect(leftOpen(cycles([[620, 3240], [640, 3200]]), [], at(VISIT_MS + 5 * HOUR_MS), 'UTC')).toEqual([]);
  });

  test('takes what the visit mended for no measure: rests that a shut valve had made long, runs that a trip had made short', () => {
    const shut = cycles([[375, 3300], [372, 3200], [370, 3280]]);
    for (const cycle of shut.last.slice(0, 30)) (cycle as unknown as number[])[2] = 30_000;
    expect(leftOpen(shut, [visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')[0]).toMatchObject({ cause: 'bleed-left-open' });
    shut.weeks = [{ startMs: VISIT_MS - 21 * DAY_MS, demand: -Math.log(3240), delivery: Math.log(1 / 360 + 1 / 3240), bandKPa: 150, startKPa: 550, stopKPa: 700 }];
    expect(leftOpen(shut, [visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')).toEqual([]);
  });

  test('takes no week for a measure in which a logged trip test let the piping down', () => {
    const drawn = cycles([[375, 1300], [372, 1250]]);
    drawn.weeks = [{ startMs: VISIT_MS - 28 * DAY_MS, demand: -Math.log(1200), delivery: Math.log(1 / 360 + 1 / 3240), bandKPa: 150, startKPa: 550, stopKPa: 700 }];
    expect(leftOpen(drawn, [visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')).toEqual([]);
    const tripTest = entrySchema.parse({ ...visit, id: 't', kind: 'trip-test', replaced: [], startedAt: new Date(VISIT_MS - 29 * DAY_MS).toISOString(), finishedAt: new Date(VISIT_MS - 27 * DAY_MS).toISOString() });
    expect(leftOpen(drawn, [tripTest, visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')[0]).toMatchObject({ slot: 'demand', cause: 'bleed-left-open' });
  });

  test('a loss of 9 % is told by ten cycles that agree, and not after work that may cost it', () => {
    const less = Array.from({ length: 11 }, (_, index) => [400 + 4 * Math.sin(index), 3240] as const);
    expect(leftOpen(cycles(less.slice(0, 8)), [visit], at(VISIT_MS + 12 * HOUR_MS), 'UTC')).toEqual([]);
    expect(leftOpen(cycles(less), [visit], at(VISIT_MS + 13 * HOUR_MS), 'UTC')[0]).toMatchObject({ slot: 'delivery', cause: 'bleed-left-open' });
    expect(leftOpen(cycles(less, false), [visit], at(VISIT_MS + 13 * HOUR_MS), 'UTC')).toEqual([]);
    expect(leftOpen(cycles(less), [entrySchema.parse({ ...visit, replaced: ['membrane'] })], at(VISIT_MS + 13 * HOUR_MS), 'UTC')).toEqual([]);
  });

  test('goes by the band where pressures are sent, and is silent about times alone after a new set point', () => {
    const narrow = cycles([[190, 1620], [185, 1600]]);
    for (const cycle of narrow.last.slice(-2)) (cycle as unknown as number[])[4] = 625;
    expect(leftOpen(narrow, [visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')).toEqual([]);
    const setPoint = entrySchema.parse({ ...visit, id: 's', kind: 'set-point', startedAt: new Date(VISIT_MS - HOUR_MS).toISOString(), finishedAt: new Date(VISIT_MS - HOUR_MS).toISOString() });
    expect(leftOpen(cycles([[375, 1900], [372, 1850]], false), [setPoint, visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')).toEqual([]);
  });

  test('leaves out cycles within a logged purge', () => {
    const purge = entrySchema.parse({ ...visit, id: 'p', kind: 'purge', startedAt: new Date(VISIT_MS + HOUR_MS).toISOString(), finishedAt: new Date(VISIT_MS + 20 * HOUR_MS).toISOString() });
    expect(leftOpen(cycles([[375, 1900], [372, 1850]]), [visit, purge], at(VISIT_MS + 5 * HOUR_MS), 'UTC')).toEqual([]);
  });

  test('a seventh less made is told where starts and stops are sent, and not where the tank alone tells how long runs are', () => {
    const seventh = cycles([[432, 3240], [430, 3250]]);
    expect(leftOpen(seventh, [visit], at(VISIT_MS + 5 * HOUR_MS), 'UTC')[0]).toMatchObject({ slot: 'delivery', cause: 'bleed-left-open' });
    expect(leftOpen(seventh, [visit], at(VISIT_MS + 5 * HOUR_MS, null), 'UTC')).toEqual([]);
  });
});

describe('what was told to stand open', () => {
  /** Three weeks of 6 and 54 min before the visit, and 100 cycles after it. */
  function since(runS: number, restS: number): RecentCycles {
    const recent = startRecentCycles();
    let atMs = VISIT_MS - 22 * DAY_MS;
    for (let index = 0; atMs < VISIT_MS + 100 * HOUR_MS; index += 1) {
      const [run, rest] = atMs < VISIT_MS ? [360 * (1 + 0.04 * Math.sin(3 * index)), 3240 * (1 + 0.04 * Math.cos(5 * index))] : [runS, restS];
      rememberCycle(recent, { generator: 'a/b' as GeneratorKey, startMs: atMs, runS: run, restS: rest, source: 'running', cut: false, fallKPaPerMin: null, riseKPaPerMin: null, startKPa: 550, stopKPa: 700 });
      atMs += (run + rest) * 1000;
    }
    return recent;
  }
  const evidence = [{ says: 'Since the visit runs are longer.', for: 'bleed-left-open' as const, weight: 2.5 }];
  const fourDays = { ...at(VISIT_MS + 100 * HOUR_MS), bleedSaid: [{ slot: 'delivery' as const, openedMs: VISIT_MS + 5 * HOUR_MS, evidence }] };

  test('is told on for as long as runs are as long as it made them, by what spoke for it then', () => {
    expect(leftOpen(since(440, 3240), [visit], fourDays, 'UTC')).toMatchObject([{ slot: 'delivery', cause: 'bleed-left-open', evidence }]);
    expect(leftOpen(since(362, 3240), [visit], fourDays, 'UTC')).toEqual([]);
    expect(leftOpen(since(440, 3240), [visit], { ...fourDays, bleedSaid: [] }, 'UTC')).toEqual([]);
  });

  test('and not past another visit, nor of one that was told of the visit before', () => {
    const next = entrySchema.parse({ ...visit, id: 'v2', startedAt: new Date(VISIT_MS + 40 * HOUR_MS).toISOString(), finishedAt: new Date(VISIT_MS + 41 * HOUR_MS).toISOString() });
    expect(leftOpen(since(440, 3240), [visit, next], fourDays, 'UTC')).toEqual([]);
    expect(leftOpen(since(440, 3240), [visit], { ...fourDays, bleedSaid: [{ ...fourDays.bleedSaid[0]!, openedMs: VISIT_MS - DAY_MS }] }, 'UTC')).toEqual([]);
  });
});
