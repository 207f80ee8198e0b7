// Issue: faults that go by the clock are known within the hour (design, section 6).
import { describe, expect, test } from 'vitest';
import { byClock } from '../../../analysis/causes/by-clock.ts';
import type { Normal, Present } from '../../../analysis/causes/clock-view.ts';
import { rememberCycle, startRecentCycles } from '../../../analysis/causes/recent-cycles.ts';
import { seesOf } from '../../../shared/distinguish.ts';
import { entrySchema } from '../../../shared/entry.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { HOUR_MS, MINUTE_MS } from '../../../shared/time.ts';

const NOW_MS = Date.UTC(2026, 5, 1, 12);

function cycles(stops: readonly number[], endedMs = NOW_MS): Normal['cycles'] {
  const recent = startRecentCycles();
  for (const [index, stopKPa] of stops.entries()) rememberCycle(recent, { generator: 'a/b' as GeneratorKey, startMs: endedMs - (stops.length - index) * HOUR_MS, runS: 300, restS: 3300, source: 'running', cut: false, fallKPaPerMin: 2, riseKPaPerMin: 30, startKPa: 550, stopKPa });
  return recent;
}

const normal: Normal = { cycles: cycles(Array.from({ length: 30 }, () => 700)), baselineRestS: 3600, usualDayRestS: 3600, countedRunS: null, usualTold: null, systemKPa: 240, systemSetKPa: 240, lowPressureKPa: 180, fallKPaPerMin: null, quietShare: 1, cutInKPa: 550, cutOutKPa: 700, setStartKPa: null, setStopKPa: null, sees: seesOf(new Set(['running', 'tank-pressure', 'nitrogen'])), dischargeKPa: null, nitrogenPercent: null, feedFall: null, timeZone: 'UTC' };
const resting: Present = { frontierMs: NOW_MS, running: false, restUnsaid: false, openCycle: null, startedMs: null, motorOn: null, motorSinceMs: null, motorTimesSaid: 0, motorRuns: null, sinceMs: NOW_MS - 20 * MINUTE_MS, startKPa: null, heardMs: NOW_MS, timesSaid: 2, tankKPa: 650, tankAtMs: NOW_MS, tankHolds: false, crestKPa: 700, crestAtMs: NOW_MS - 20 * MINUTE_MS, feedFalls: [], tankTrail: [], tankHours: [], systemHours: [], pipings: 2, belowSinceMs: null, belowSuddenly: false, tankShowsRuns: false, tankShowsRests: false, saidLate: false, meterSinceMs: null, meterStillMs: null, tankKPaPerMin: null, dischargeKPa: null, nitrogenPercent: null, systemKPa: 240, systemAtMs: NOW_MS, systemSags: false, systemSinks: false, systemRises: false, systemFalls: false, isMetered: false, full: null, toldRest: null, systemLowSinceMs: null, power: true, powerSinceMs: 0, powerHeardMs: NOW_MS, falling: false, filling: false, supplyOpen: false, demandOpen: false, demandOverMs: null, supplyOverMs: null, leaksBack: false, endlessOverMs: null, cutShort: null, missedStartMs: null, bleedSaid: [] };
const visit = entrySchema.parse({ id: 'v1', site: 'a', generator: 'b', startedAt: '2026-06-01T09:00:00Z', finishedAt: '2026-06-01T10:00:00Z' });
const causeOf = (present: Partial<Present>, known: Partial<Normal> = {}, service?: typeof visit): string[] => byClock({ ...resting, ...present }, { ...normal, ...known }, service === undefined ? [] : [service]).map((condition) => condition.cause);

describe('byClock()', () => {
  test('says nothing of a healthy rest or a healthy run', () => {
    expect(causeOf({})).toEqual([]);
    expect(causeOf({ running: true, sinceMs: NOW_MS - 5 * MINUTE_MS })).toEqual([]);
  });

  test('says no power, and then nothing else', () => {
    expect(causeOf({ power: false, powerSinceMs: NOW_MS - 11 * MINUTE_MS, belowSinceMs: NOW_MS - HOUR_MS, tankKPa: 400 })).toEqual(['no-power']);
    expect(causeOf({ power: false, powerSinceMs: NOW_MS - 5 * MINUTE_MS })).toEqual([]);
  });

  test('says not starting after ten minutes far below cut-in, and within the hour where a lowered set point could be meant', () => {
    expect(causeOf({ tankKPa: 470, belowSinceMs: NOW_MS - 11 * MINUTE_MS })).toEqual(['not-starting']);
    expect(causeOf({ tankKPa: 520, belowSinceMs: NOW_MS - 20 * MINUTE_MS })).toEqual([]);
    expect(causeOf({ tankKPa: 520, belowSinceMs: NOW_MS - 26 * MINUTE_MS })).toEqual(['not-starting']);
    expect(causeOf({ tankKPa: 470, belowSinceMs: NOW_MS - 8 * MINUTE_MS })).toEqual([]);
    expect(causeOf({ tankKPa: 530, belowSinceMs: NOW_MS - 41 * MINUTE_MS })).toEqual([]);
    expect(causeOf({ tankKPa: 530, belowSinceMs: NOW_MS - 181 * MINUTE_MS })).toEqual(['not-starting']);
  });

  test('believes a set point that was logged, before any cycle shows it', () => {
    const low = { tankKPa: 505, belowSinceMs: NOW_MS - 60 * MINUTE_MS };
    expect(causeOf(low)).toEqual(['not-starting']);
    expect(causeOf({ ...low, belowSinceMs: null }, { setStartKPa: 497 })).toEqual([]);
    const high = { running: true, sinceMs: NOW_MS - 3 * HOUR_MS, timesSaid: 4, tankKPa: 725 };
    expect(byClock({ ...resting, ...high }, normal, [])[0]!.causes[0]).toMatchObject({ cause: 'runs-without-end', probability: 0.95 });
    expect(byClock({ ...resting, ...high }, { ...normal, setStopKPa: 760 }, [])[0]!.cause).not.toBe('runs-without-end');
  });

  test('by its hour meter alone: what never stops while the tank comes to its stop and is drawn from, and a start that was made', () => {
    const full = { running: null, heardMs: null, sinceMs: null, full: { sinceMs: NOW_MS - 5 * HOUR_MS, heardMs: NOW_MS, times: 6 } };
    expect(causeOf({ ...full, tankKPa: 640, crestKPa: 699, crestAtMs: NOW_MS - HOUR_MS })).toEqual(['runs-without-end']);
    expect(causeOf({ ...full, tankKPa: 698, crestKPa: 698, crestAtMs: NOW_MS })).toEqual(['runs-without-end']);
    // A stop that isn't reached is more drawn or less made.
    expect(causeOf({ ...full, tankKPa: 640, crestKPa: 650, crestAtMs: NOW_MS - HOUR_MS })).toEqual(['undetermined']);
    const low = { running: null, heardMs: null, sinceMs: null, tankKPa: 100, belowSinceMs: NOW_MS - 4 * HOUR_MS };
    expect(causeOf({ ...low, meterStillMs: 3.5 * HOUR_MS })).toEqual(['not-starting']);
    expect(causeOf({ ...low, meterStillMs: HOUR_MS })).toEqual([]);
    // A gauge that jumped within a rest is waited for as the next start is.
    expect(causeOf({ ...low, belowSinceMs: NOW_MS - 60 * MINUTE_MS, meterStillMs: 60 * MINUTE_MS, belowSuddenly: true, crestAtMs: NOW_MS - 50 * MINUTE_MS })).toEqual([]);
  });

  // At duty 1 no rest tells demand: only whether the tank goes up or down is left.
  test.each([[-18, 'it falls by 18 kPa an hour while the compressor runs, so more is drawn than is made'], [0.5, 'it stands still, so as much is drawn as is made'], [6, 'it rises by only 6 kPa an hour, so nearly as much is drawn as is made']])('a tank that moves by %d kPa an hour through an endless run says what is drawn against what is made', (perHour, words) => {
    const trail = Array.from({ length: 7 }, (_, index) => [NOW_MS - (6 - index) * 10 * MINUTE_MS, 620 + (perHour * index) / 6] as const);
    const endless = { ...resting, running: true, sinceMs: NOW_MS - 4 * HOUR_MS, timesSaid: 4, tankKPa: 620, tankTrail: trail };
    expect(byClock(endless, normal, [])[0]!.evidence[0]!.says).toContain(words);
    // The trail of the rest before it says nothing of the run.
    expect(byClock({ ...endless, tankTrail: trail.map(([atMs, kPa]) => [atMs - 4 * HOUR_MS, kPa] as const) }, normal, [])[0]!.evidence[0]!.says).toContain(': as much is drawn as is made');
  });

  test('without the tank pressure, a long run after a logged test of the low-pressure switch fills up what it let out', () => {
    const unseen = { running: true, sinceMs: NOW_MS - 4 * HOUR_MS, timesSaid: 4, tankKPa: null, tankAtMs: null };
    const tested = (endedH: number) => [entrySchema.parse({ ...visit, id: 't', kind: 'low-pressure-test', startedAt: new Date(NOW_MS - (endedH + 0.2) * HOUR_MS).toISOString(), finishedAt: new Date(NOW_MS - endedH * HOUR_MS).toISOString() })];
    const told = (more: Partial<Present>, endedH: number): string[] => byClock({ ...resting, ...unseen, ...more }, normal, tested(endedH)).map((condition) => condition.cause);
    expect(told({}, 4.1)).toEqual([]);
    expect(told({}, 40)).toEqual(['runs-without-end']);
    expect(told({ sinceMs: NOW_MS - 9 * HOUR_MS }, 9.1)).toEqual(['runs-without-end']);
    expect(told({ tankKPa: 620, tankAtMs: NOW_MS }, 4.1)).not.toEqual([]);
    // So does one after a valve that was shut was opened, or a switch that stuck was mended; days later it doesn't.
    expect(told({ supplyOverMs: NOW_MS - 4 * HOUR_MS }, 40)).toEqual([]);
    expect(told({ endlessOverMs: NOW_MS - 4 * HOUR_MS }, 40)).toEqual([]);
    expect(told({ supplyOverMs: NOW_MS - 80 * HOUR_MS }, 40)).toEqual(['runs-without-end']);
  });

  test('a tank whose few samples seldom show its stop is past it above what is registered', () => {
    const few = { running: true, sinceMs: NOW_MS - 3 * HOUR_MS, timesSaid: 4, tankKPa: 715, tankTrail: [] };
    const seen = (tankShowsRuns: boolean): string[] => byClock({ ...resting, ...few, tankShowsRuns }, { ...normal, cutOutKPa: 715 }, []).flatMap((condition) => (condition.letsOff === true ? [condition.cause] : []));
    expect(seen(true)).toEqual(['runs-without-end']);
    expect(seen(false)).toEqual([]);
  });

  test('the first rest after a run that did not end lasts twice as long, and piping that rises is fed', () => {
    const sinceMs = NOW_MS - 1.3 * HOUR_MS;
    const alone = { sinceMs, tankKPa: null, tankAtMs: null, tankHolds: null, crestKPa: null, crestAtMs: null, systemKPa: null };
    const before = { cycles: cycles(Array.from({ length: 30 }, () => 700), sinceMs - HOUR_MS) };
    const elements = entrySchema.parse({ ...visit, startedAt: new Date(sinceMs - HOUR_MS).toISOString(), finishedAt: new Date(sinceMs - MINUTE_MS).toISOString(), replaced: ['particulate-element'] });
    expect(causeOf(alone, before, elements)).toEqual(['valve-left-shut']);
    expect(causeOf({ ...alone, endlessOverMs: NOW_MS - HOUR_MS }, before, elements)).toEqual([]);
    const low = { sinceMs, systemKPa: 210 };
    expect(causeOf(low, before, elements)).toEqual(['valve-left-shut']);
    expect(causeOf({ ...low, systemRises: true }, before, elements)).not.toContain('valve-left-shut');
  });

  test('a run that began with a tank that had run down fills its piping too: a day is its time, as long as it rises', () => {
    const trail = (fromKPa: number) => [[NOW_MS - HOUR_MS, fromKPa] as const, [NOW_MS, 620] as const];
    const fills = { running: true, sinceMs: NOW_MS - 10 * HOUR_MS, timesSaid: 9, tankKPa: 620, filling: true, startKPa: 95, tankTrail: trail(590) };
    expect(causeOf(fills)).toEqual([]);
    expect(causeOf({ ...fills, tankTrail: trail(620), systemRises: true })).toEqual([]);
    expect(causeOf({ ...fills, startKPa: 540 })).not.toEqual([]);
    // It stands still, is past its stop, or has had its time.
    expect(causeOf({ ...fills, tankTrail: trail(620) })).not.toEqual([]);
    expect(causeOf({ ...fills, tankKPa: 780 })).toEqual(['runs-without-end']);
    expect(causeOf({ ...fills, sinceMs: NOW_MS - 25 * HOUR_MS })).not.toEqual([]);
  });

  test('behind an air receiver, a compressor that runs on through a rest of production never stops', () => {
    const through = { motorOn: true, motorSinceMs: NOW_MS - 3 * HOUR_MS, motorTimesSaid: 4, running: false, sinceMs: NOW_MS - 65 * MINUTE_MS };
    expect(causeOf(through)).toEqual(['runs-without-end']);
    expect(causeOf({ ...through, sinceMs: NOW_MS - 50 * MINUTE_MS })).toEqual([]);
    expect(causeOf({ ...through, motorSinceMs: NOW_MS - 20 * MINUTE_MS })).toEqual([]);
    expect(causeOf({ ...through, motorTimesSaid: 2 })).toEqual([]);
    expect(causeOf({ ...through, motorOn: false })).toEqual([]);
  });

  test('a stop that is not reached after a visit is a bleed before it is anything that breaks by itself', () => {
    const short = { running: true, sinceMs: NOW_MS - 3 * HOUR_MS, timesSaid: 4, tankKPa: 610, nitrogenPercent: 99.95 };
    const told = (service?: typeof visit): ReturnType<typeof byClock> => byClock({ ...resting, ...short }, { ...normal, nitrogenPercent: 99.3 }, service === undefined ? [] : [service]);
    expect(told(visit)[0]).toMatchObject({ slot: 'delivery', among: expect.arrayContaining(['bleed-left-open', 'drain-stuck-open']) });
    expect(told(visit)[0]!.causes[0]).toMatchObject({ cause: 'bleed-left-open', probability: expect.closeTo(0.6, 1) });
    expect(told(entrySchema.parse({ ...visit, startedAt: '2026-05-29T09:00:00Z', finishedAt: '2026-05-29T10:00:00Z' }))[0]!.causes[0]!.cause).not.toBe('bleed-left-open');
    expect(byClock({ ...resting, ...short, nitrogenPercent: 97 }, { ...normal, nitrogenPercent: 99.3 }, [visit])[0]).toMatchObject({ slot: 'demand', cause: 'bleed-left-open' });
  });

  test('behind an air receiver, a generator that calls while its compressor stands still is not started, and no run without end', () => {
    const calls = { running: true, sinceMs: NOW_MS - 3 * HOUR_MS, timesSaid: 5, tankKPa: 300, belowSinceMs: NOW_MS - 20 * MINUTE_MS };
    expect(causeOf({ ...calls, motorOn: false })).toEqual(['not-starting']);
    expect(causeOf({ ...calls, motorOn: true })).not.toContain('not-starting');
  });

  test('where the mains are told of it waits for their next word, and no longer than 50 min', () => {
    const low = { tankKPa: 470, belowSinceMs: NOW_MS - 20 * MINUTE_MS };
    expect(causeOf({ ...low, powerHeardMs: NOW_MS - 25 * MINUTE_MS })).toEqual([]);
    expect(causeOf({ ...low, powerHeardMs: NOW_MS - 15 * MINUTE_MS })).toEqual(['not-starting']);
    expect(causeOf({ tankKPa: 500, belowSinceMs: NOW_MS - 51 * MINUTE_MS, powerHeardMs: NOW_MS - HOUR_MS })).toEqual(['not-starting']);
  });

  test('without a run state it believes an hour meter that was heard standing still, and nothing less', () => {
    const counted = { running: null, sinceMs: null, tankKPa: 400, belowSinceMs: NOW_MS - 2 * HOUR_MS };
    expect(causeOf(counted)).toEqual([]);
    expect(causeOf({ ...counted, meterStillMs: 30 * MINUTE_MS })).toEqual([]);
    expect(causeOf({ ...counted, meterStillMs: HOUR_MS })).toEqual(['not-starting']);
  });

  test('after a fall that no rest makes it waits for the longest rest: a gauge that jumped starts no search for the motor', () => {
    const jumped = { tankKPa: 100, belowSinceMs: NOW_MS - 11 * MINUTE_MS, belowSuddenly: true };
    expect(causeOf(jumped)).toEqual([]);
    // The longest usual rest is 55 min: one and a half of it is waited for.
    expect(causeOf({ ...jumped, sinceMs: NOW_MS - 80 * MINUTE_MS })).toEqual([]);
    expect(causeOf({ ...jumped, sinceMs: NOW_MS - 2 * HOUR_MS })).toEqual(['not-starting']);
  });

  test('one run that stopped short and went on minutes later is told, also once that next run has ended', () => {
    const recent = cycles(Array.from({ length: 30 }, () => 700));
    recent.last.push([NOW_MS - 20 * MINUTE_MS, 120, 720, 550, 640]);
    expect(causeOf({ running: true, sinceMs: NOW_MS - MINUTE_MS, startKPa: 632 }, { cycles: recent })).toEqual(['stops-short']);
    expect(causeOf({ running: false, sinceMs: NOW_MS - MINUTE_MS, startKPa: 632 }, { cycles: recent })).toEqual(['stops-short']);
    expect(causeOf({ running: false, sinceMs: NOW_MS - MINUTE_MS, startKPa: 551 }, { cycles: recent })).toEqual([]);
  });

  test('a rest that only the tank tells of, where a start was said last, waits for the next word', () => {
    const low = { tankKPa: 350, restUnsaid: true };
    expect(causeOf({ ...low, belowSinceMs: NOW_MS - 60 * MINUTE_MS })).toEqual([]);
    expect(causeOf({ ...low, belowSinceMs: NOW_MS - 66 * MINUTE_MS })).toEqual(['not-starting']);
  });

  test('what was said not to start and then starts lower, twice alike, was set lower; once, from far below or after a service it was not', () => {
    const startedAt = (kPa: readonly number[]): Normal['cycles'] => {
      const recent = cycles(Array.from({ length: 30 }, () => 700));
      for (const [index, startKPa] of kPa.entries()) recent.last.push([NOW_MS - (6 - 2 * index) * HOUR_MS, 300, 6900, startKPa, 600]);
      return recent;
    };
    const missed = { missedStartMs: NOW_MS - 8 * HOUR_MS };
    const said = (kPa: readonly number[], service?: typeof visit): string[] => causeOf(missed, { cycles: startedAt(kPa) }, service);
    expect(said([452, 449])).toEqual(['set-point-changed']);
    expect(said([452])).toEqual([]);
    // The second run may just have ended: its cycle hasn't.
    expect(causeOf({ ...missed, startedMs: NOW_MS - HOUR_MS, startKPa: 449 }, { cycles: startedAt([452]) })).toEqual(['set-point-changed']);
    expect(said([452, 549])).toEqual([]);
    expect(said([452, 500])).toEqual([]);
    expect(said([200, 205])).toEqual([]);
    expect(said([452, 449], visit)).toEqual([]);
    expect(causeOf({}, { cycles: startedAt([452, 449]) })).toEqual([]);
  });

  test('without the tank pressure, a run after a visit may fill a tank that was vented: by what a run adds to it', () => {
    // Runs of 5 min fill 150 of 700 kPa, so 29 min fill it; of runs of 35 min, 3.4 h.
    const long = (runS: number): Normal['cycles'] => {
      const recent = startRecentCycles();
      for (let index = 0; index < 30; index += 1) rememberCycle(recent, { generator: 'a/b' as GeneratorKey, startMs: NOW_MS - (90 - 2 * index) * HOUR_MS, runS, restS: 5000, source: 'running', cut: false, fallKPaPerMin: null, riseKPaPerMin: null, startKPa: null, stopKPa: null });
      return recent;
    };
    const run = { running: true, timesSaid: 9, tankKPa: null, tankAtMs: null };
    const told = (hours: number, runS: number, service?: typeof visit): string[] => causeOf({ ...run, sinceMs: NOW_MS - hours * HOUR_MS }, { cycles: long(runS) }, service);
    expect(told(2.5, 2100)).toEqual(['runs-without-end']);
    expect(told(2.5, 2100, visit)).toEqual([]);
    // Since a visit it may as well be a bleed, or the valve before the tank.
    expect(told(3.6, 2100, visit)).toEqual(['undetermined']);
    expect(told(1.1, 300, visit)).toEqual(['undetermined']);
  });

  test('a tank that stands far below its start in a run after a visit gets nothing: nothing is drawn from it either', () => {
    const run = { running: true, sinceMs: NOW_MS - 2.8 * HOUR_MS, heardMs: NOW_MS - 5 * MINUTE_MS, timesSaid: 5 };
    const trail = (kPa: number, perHour: number) => Array.from({ length: 7 }, (_, index) => [NOW_MS - (6 - index) * 10 * MINUTE_MS, kPa + (perHour * index) / 6] as const);
    const told = (kPa: number, perHour: number): string[] => byClock({ ...resting, ...run, tankKPa: kPa, tankTrail: trail(kPa, perHour) }, normal, [visit]).map(({ causes }) => causes[0]!.cause);
    expect(told(80, -0.5)).toEqual(['valve-left-shut']);
    // What rises is being filled; what stands higher feeds its piping.
    expect(told(80, 60)).toEqual(['bleed-left-open']);
    expect(told(400, -0.5)).toEqual(['bleed-left-open']);
  });

  test('where gas is said to run back, a feed side that empties faster is no drain', () => {
    const feedFalls = [3, 2, 1].map((hours) => [NOW_MS - hours * HOUR_MS, 360] as const);
    const feedFall = { centre: Math.log(630), scatter: 0.02, fromMs: 0, toMs: 0 } as unknown as NonNullable<Normal['feedFall']>;
    expect(causeOf({ feedFalls }, { feedFall })).toEqual(['drain-stuck-open']);
    expect(causeOf({ feedFalls, leaksBack: true }, { feedFall })).toEqual([]);
  });

  test('says a run without end past an hour, but not one that a lost packet makes, nor a filling', () => {
    const run = { running: true, sinceMs: NOW_MS - 65 * MINUTE_MS, heardMs: NOW_MS - 5 * MINUTE_MS, tankKPa: 712 };
    expect(causeOf(run)).toEqual(['runs-without-end']);
    expect(causeOf({ ...run, sinceMs: NOW_MS - 55 * MINUTE_MS })).toEqual([]);
    expect(causeOf({ ...run, heardMs: run.sinceMs })).toEqual([]);
    expect(causeOf({ ...run, falling: true, timesSaid: 2 })).toEqual([]);
    expect(causeOf({ ...run, tankKPa: 600, filling: true })).toEqual([]);
  });

  test('a run of hours after a logged trip test fills the piping, and is without end after a day', () => {
    const test = entrySchema.parse({ ...visit, id: 't', kind: 'trip-test', startedAt: '2026-05-31T20:00:00Z', finishedAt: '2026-05-31T23:00:00Z' });
    const runs = (hours: number, entry: typeof test): string[] => byClock({ ...resting, running: true, sinceMs: NOW_MS - hours * HOUR_MS, timesSaid: 20, tankKPa: 620 }, normal, [entry]).map((condition) => condition.cause);
    expect(runs(12, test)).toEqual([]);
    expect(runs(12, { ...test, startedAt: '2026-05-29T20:00:00Z', finishedAt: '2026-05-29T23:00:00Z' })).toHaveLength(1);
    expect(runs(25, { ...test, startedAt: '2026-05-31T08:00:00Z', finishedAt: '2026-05-31T09:00:00Z' })).toHaveLength(1);
  });

  test('where the stop is not reached it names what is drawn or made, by the rests and runs before, and never the switch', () => {
    const run = { running: true, sinceMs: NOW_MS - 185 * MINUTE_MS, heardMs: NOW_MS - 5 * MINUTE_MS, timesSaid: 3, tankKPa: 640 };
    // People draw in bursts of an hour or two.
    expect(byClock({ ...resting, ...run, sinceMs: NOW_MS - 175 * MINUTE_MS }, normal, [])).toEqual([]);
    const changed = (runS: number, restS: number): Normal['cycles'] => {
      const recent = cycles(Array.from({ length: 30 }, () => 700));
      for (let index = 0; index < 4; index += 1) rememberCycle(recent, { generator: 'a/b' as GeneratorKey, startMs: NOW_MS - (4 - index) * HOUR_MS, runS, restS, source: 'running', cut: false, fallKPaPerMin: 2, riseKPaPerMin: 30, startKPa: 550, stopKPa: 700 });
      return recent;
    };
    expect(byClock({ ...resting, ...run }, { ...normal, cycles: changed(450, 1500) }, [])[0]).toMatchObject({ slot: 'demand', cause: 'leak', causes: [{ cause: 'leak', probability: 0.75 }, {}, {}, {}] });
    expect(byClock({ ...resting, ...run }, { ...normal, cycles: changed(900, 3300) }, [])[0]).toMatchObject({ slot: 'delivery', cause: 'undetermined', among: ['element-loading', 'drain-stuck-open', 'compressor-side'] });
    // Rests and runs as ever up to this run: a fault of what makes, as a leak would rather have begun in the long rest.
    expect(byClock({ ...resting, ...run }, normal, [])[0]).toMatchObject({ slot: 'delivery', cause: 'undetermined', among: ['element-loading', 'drain-stuck-open', 'compressor-side'] });
    const shortRest = changed(300, 3300);
    (shortRest.last.at(-1) as unknown as number[])[2] = 1200;
    expect(byClock({ ...resting, ...run }, { ...normal, cycles: shortRest }, [])[0]).toMatchObject({ slot: 'demand', cause: 'leak' });
    const usualFall = -150 / 55;
    expect(byClock({ ...resting, ...run, tankKPaPerMin: usualFall }, normal, [])[0]!.slot).toBe('delivery');
    expect(byClock({ ...resting, ...run, tankKPaPerMin: 4 * usualFall }, normal, [])[0]).toMatchObject({ slot: 'demand', cause: 'leak', causes: [{ cause: 'leak', probability: 0.75 }, {}, {}, {}] });
    expect(byClock({ ...resting, ...run, nitrogenPercent: 99.9 }, { ...normal, nitrogenPercent: 98.5 }, [])[0]!.slot).toBe('delivery');
    expect(byClock({ ...resting, ...run, nitrogenPercent: 97.5 }, { ...normal, nitrogenPercent: 98.5 }, [])[0]!.slot).toBe('demand');
    expect(byClock({ ...resting, ...run, dischargeKPa: 500 }, { ...normal, dischargeKPa: 720 }, [])[0]!.slot).toBe('delivery');
  });

  test('says stops short after two stops well below the usual one with usual starts', () => {
    const short = [...Array.from({ length: 30 }, () => 700), 640, 632];
    expect(causeOf({}, { cycles: cycles(short) })).toEqual(['stops-short']);
    expect(causeOf({}, { cycles: cycles([...short.slice(0, 30), 640]) })).toEqual([]);
  });

  test('a tank that comes to its stop within the hour is being filled, and so is one that rises after a test for as long as three days', () => {
    const trail = (risesKPa: number) => Array.from({ length: 7 }, (_, index) => [NOW_MS - (6 - index) * 10 * MINUTE_MS, 600 - ((6 - index) / 6) * risesKPa] as const);
    const run = { running: true, sinceMs: NOW_MS - 30 * HOUR_MS, heardMs: NOW_MS - 5 * MINUTE_MS, timesSaid: 9, tankKPa: 600 };
    expect(causeOf({ ...run, tankTrail: trail(120) })).toEqual([]);
    expect(causeOf({ ...run, tankTrail: trail(30) })).not.toEqual([]);
    const test = (kind: string) => entrySchema.parse({ id: 't', site: 'a', generator: 'b', kind, startedAt: new Date(run.sinceMs - 2 * HOUR_MS).toISOString(), finishedAt: new Date(run.sinceMs).toISOString() });
    for (const kind of ['trip-test', 'purge', 'impairment']) expect(byClock({ ...resting, ...run, tankTrail: trail(30) }, normal, [test(kind)])).toEqual([]);
    expect(byClock({ ...resting, ...run, tankTrail: trail(1) }, normal, [test('trip-test')])).not.toEqual([]);
    expect(byClock({ ...resting, ...run, sinceMs: NOW_MS - 73 * HOUR_MS, tankTrail: trail(30) }, normal, [test('trip-test')])).not.toEqual([]);
  });

  test('a tank past its stop is full, whatever was being filled up', () => {
    const run = { running: true, sinceMs: NOW_MS - 80 * MINUTE_MS, heardMs: NOW_MS - 5 * MINUTE_MS, timesSaid: 5, filling: true };
    expect(causeOf({ ...run, tankKPa: 690 })).toEqual([]);
    expect(byClock({ ...resting, ...run, tankKPa: 720 }, normal, [])[0]).toMatchObject({ slot: 'running', cause: 'runs-without-end', causes: [{ probability: 0.95 }, { cause: 'sensor-fault' }] });
  });

  test('a run after nothing had started fills up what ran down meanwhile, where no tank tells', () => {
    const run = { running: true, sinceMs: NOW_MS - 2.5 * HOUR_MS, heardMs: NOW_MS - 5 * MINUTE_MS, timesSaid: 5, tankKPa: null, tankAtMs: null };
    expect(causeOf(run)).toEqual(['runs-without-end']);
    expect(causeOf({ ...run, missedStartMs: NOW_MS - 20 * HOUR_MS })).toEqual([]);
    expect(causeOf({ ...run, sinceMs: NOW_MS - 9 * HOUR_MS, missedStartMs: NOW_MS - 20 * HOUR_MS })).toEqual(['runs-without-end']);
  });

  test('a tank that falls in its first run after a visit as in any rest gets nothing: the feed valve may be shut', () => {
    const usualFall = -150 / 55;
    const run = { running: true, sinceMs: NOW_MS - 65 * MINUTE_MS, heardMs: NOW_MS - 5 * MINUTE_MS, timesSaid: 3, tankKPa: 420, filling: true };
    expect(byClock({ ...resting, ...run, tankKPaPerMin: usualFall }, normal, [visit])[0]).toMatchObject({ slot: 'delivery', cause: 'valve-left-shut', causes: [{ probability: 0.6 }, { cause: 'bleed-left-open' }, { cause: 'drain-stuck-open' }, { cause: 'compressor-side' }] });
    // A tank that is read rarely is not seen as runs begin: as low as is registered will do.
    const unseenStart = { ...normal, cycles: { ...normal.cycles, usual: { ...normal.cycles.usual!, startKPa: null } } };
    expect(byClock({ ...resting, ...run, filling: false, tankKPaPerMin: usualFall }, unseenStart, [visit])[0]).toMatchObject({ slot: 'delivery', cause: 'valve-left-shut' });
    expect(byClock({ ...resting, ...run, filling: false, tankKPaPerMin: usualFall }, { ...unseenStart, cutInKPa: null }, [visit])[0]).not.toMatchObject({ cause: 'valve-left-shut' });
    // Purer than in good runs is what little comes through; the tank says that it is next to nothing.
    expect(byClock({ ...resting, ...run, filling: false, tankKPaPerMin: usualFall, nitrogenPercent: 99.9 }, { ...normal, nitrogenPercent: 99 }, [visit])[0]).toMatchObject({ cause: 'valve-left-shut' });
    // Slower than in a rest something is made, and the last rest was as long as ever: less is made, but not nothing.
    expect(byClock({ ...resting, ...run, filling: false, tankKPaPerMin: 0.2 * usualFall }, normal, [visit])[0]).toMatchObject({ slot: 'delivery', cause: 'undetermined', causes: expect.not.arrayContaining([expect.objectContaining({ cause: 'valve-left-shut' })]) });
    // What fills an empty piping falls faster.
    expect(causeOf({ ...run, tankKPaPerMin: 4 * usualFall }, {}, visit)).toEqual([]);
    expect(causeOf({ ...run, tankKPaPerMin: usualFall })).toEqual([]);
  });

  test('by a duty ratio of nothing the tank below its start says that it does not start, and without a tank the piping that sags', () => {
    const told = (restHours: number) => ({ running: null, sinceMs: null, heardMs: null, toldRest: { sinceMs: NOW_MS - restHours * HOUR_MS, heardMs: NOW_MS, spanS: 3600, lastRestS: 3000 } });
    expect(causeOf({ ...told(3), tankKPa: 440, belowSinceMs: NOW_MS - HOUR_MS })).toEqual(['not-starting']);
    expect(causeOf({ ...told(0.5), tankKPa: 440, belowSinceMs: NOW_MS - HOUR_MS })).toEqual([]);
    const untanked = { ...told(12), tankKPa: null, tankAtMs: null, crestKPa: null, crestAtMs: null };
    const usualTold = { restS: 5 * 3600, runS: 600 };
    expect(byClock({ ...resting, ...untanked, systemKPa: 215 }, { ...normal, usualTold }, [])[0]).toMatchObject({ slot: 'running', cause: 'not-starting', causes: [{ probability: 0.65 }, { cause: 'valve-left-shut' }, { cause: 'leak' }] });
    expect(causeOf({ ...untanked, systemKPa: 215 }, { usualTold: { restS: 12 * 3600, runS: 600 } })).toEqual([]);
    expect(causeOf({ ...untanked, systemKPa: 236 }, { usualTold })).toEqual([]);
  });

  test('a gauge of the piping that reads lower since a visit is no shut valve where the compressor cycles as it did', () => {
    const since = { systemKPa: 218, systemHours: [[NOW_MS - HOUR_MS, 218.5] as const] };
    expect(causeOf(since, {}, visit)).toEqual([]);
    expect(causeOf({ ...since, systemSags: true }, {}, visit)).toEqual([]);
    // One riser of several that falls on isn't fed, though the others are; and nobody knows where no rest has ended yet.
    expect(causeOf({ ...since, systemHours: [[NOW_MS - HOUR_MS, 227] as const] }, {}, visit)).toEqual(['valve-left-shut']);
    expect(causeOf({ ...since, pipings: 1, systemHours: [[NOW_MS - HOUR_MS, 227] as const] }, {}, visit)).toEqual([]);
    expect(causeOf(since, { cycles: cycles(Array.from({ length: 30 }, () => 700), Date.parse(visit.startedAt)) }, visit)).toEqual(['valve-left-shut']);
  });

  test('piping that is told by change and has sagged is still low three hours later', () => {
    const sags = { sinceMs: NOW_MS - 5 * HOUR_MS, tankKPa: null, tankAtMs: null, systemKPa: 210 };
    expect(causeOf({ ...sags, systemAtMs: NOW_MS - 2.9 * HOUR_MS })).toEqual(['not-starting']);
    expect(causeOf({ ...sags, systemAtMs: NOW_MS - 3.1 * HOUR_MS })).toEqual([]);
  });

  test('says a shut valve before half of the margin to the low-pressure signal is lost', () => {
    const shut = { running: false, sinceMs: NOW_MS - 2 * HOUR_MS, tankHolds: true };
    const halfOfMargin = 240 - (240 - 180) / 2;
    expect(causeOf({ ...shut, systemKPa: halfOfMargin + 8 }, {}, visit)).toEqual(['valve-left-shut']);
    expect(causeOf({ ...shut, systemKPa: 238 }, {}, undefined)).toEqual([]);
    // Just after the work what fell in it may only be filling up.
    const ended = (minutes: number): typeof visit => ({ ...visit, startedAt: new Date(NOW_MS - 2 * HOUR_MS).toISOString(), finishedAt: new Date(NOW_MS - minutes * MINUTE_MS).toISOString() });
    expect(causeOf({ ...shut, systemKPa: halfOfMargin + 8 }, {}, ended(5))).toEqual([]);
    expect(causeOf({ ...shut, systemKPa: halfOfMargin + 8 }, {}, ended(21))).toEqual(['valve-left-shut']);
    expect(causeOf({ ...shut, systemKPa: halfOfMargin - 1 }, {}, ended(5))).toEqual(['valve-left-shut']);
  });

  test('after a visit, a rest that does not end while the piping holds is a bypass; without piping pressure most likely a shut valve', () => {
    const shut = { running: false, sinceMs: NOW_MS - 2 * HOUR_MS, tankHolds: true };
    expect(causeOf(shut, {}, visit)).toEqual(['supply-bypassed']);
    // Nothing holds piping that falls, though it has lost hardly any yet.
    expect(causeOf({ ...shut, systemKPa: 238, systemFalls: true }, {}, visit)).toEqual([]);
    const [condition] = byClock({ ...resting, ...shut, systemKPa: null, systemAtMs: null }, normal, [visit]);
    expect(condition).toMatchObject({ cause: 'valve-left-shut', among: null, missingChannels: ['system-pressure'] });
    expect(condition!.causes.map((one) => one.cause)).toEqual(['valve-left-shut', 'supply-bypassed', 'not-starting']);
    // The tank falls, so gas is drawn and nothing is shut.
    expect(causeOf({ ...shut, tankHolds: false }, {}, visit)).toEqual([]);
  });

  test('after a visit, a tank that hardly falls by the time of its next start is no longer drawn from, whether or not a run state is sent', () => {
    // 150 kPa in an hour are usual; after 50 min at least 120 should be gone.
    const usual = { fallKPaPerMin: 2.5, baselineRestS: 7200, cycles: cycles(Array.from({ length: 30 }, () => 700), NOW_MS - 2 * HOUR_MS) };
    const silent = { running: null, sinceMs: null, heardMs: null, tankHolds: null, systemKPa: null, systemAtMs: null };
    const since = (minutes: number, tankKPa: number): Partial<Present> => ({ crestKPa: 700, crestAtMs: NOW_MS - minutes * MINUTE_MS, tankKPa });
    expect(causeOf({ ...silent, ...since(50, 680) }, usual, visit)).toEqual(['valve-left-shut']);
    // What is mostly drawn in bursts has its quiet hours, as long as a usual rest.
    expect(causeOf({ ...silent, ...since(50, 680) }, { ...usual, quietShare: 0.2 }, visit)).toEqual([]);
    expect(causeOf({ ...silent, ...since(57, 680) }, { ...usual, quietShare: 0.2 }, visit)).toEqual(['valve-left-shut']);
    // A whole rest has begun and ended since, over an hour after the work: the visit may be logged as late as now.
    expect(causeOf({ ...silent, ...since(50, 680) }, { ...usual, cycles: normal.cycles }, visit)).toEqual([]);
    expect(causeOf({ ...since(50, 680), sinceMs: NOW_MS - 50 * MINUTE_MS }, usual, visit)).toEqual(['valve-left-shut']);
    expect(causeOf({ ...silent, ...since(45, 680) }, usual, visit)).toEqual([]);
    expect(causeOf({ ...silent, ...since(50, 640) }, usual, visit)).toEqual([]);
    // 700 kPa sent as 101: pounds per square inch, taken for kPa. Such a tank was never full, and isn't what it seems.
    expect(causeOf({ ...silent, ...since(50, 98.6), crestKPa: 101.5 }, usual, visit)).toEqual([]);
    // Of what was drawn the tank's own leakage is left: it should have started 24 min ago, and is half way.
    expect(causeOf({ ...silent, ...since(84, 625) }, usual, visit)).toEqual(['valve-left-shut']);
    expect(causeOf({ ...silent, ...since(84, 570) }, usual, visit)).toEqual([]);
    expect(causeOf({ ...silent, ...since(50, 680) }, usual)).toEqual([]);
    expect(causeOf({ ...silent, ...since(50, 680) }, usual, { ...visit, replaced: ['o-rings'] })).toEqual([]);
  });

  test('after a visit, a tank that stands nearly still where it surely falls is told within hours, counted from the end of the work', () => {
    // 45 kPa in an hour and a half are usual in the quietest hours; its whole band takes five.
    const usual = { fallKPaPerMin: 0.5, baselineRestS: 20_000, cycles: cycles(Array.from({ length: 30 }, () => 700), NOW_MS - 5 * HOUR_MS) };
    const silent = { running: null, sinceMs: null, heardMs: null, tankHolds: null, systemKPa: null, systemAtMs: null };
    const since = (minutes: number, tankKPa: number): Partial<Present> => ({ ...silent, crestKPa: 700, crestAtMs: NOW_MS - minutes * MINUTE_MS, tankKPa });
    expect(causeOf(since(90, 690), usual, visit)).toEqual(['valve-left-shut']);
    expect(causeOf(since(90, 680), usual, visit)).toEqual([]);
    expect(causeOf(since(50, 699), usual, visit)).toEqual([]);
    // Between two bursts of a regulator it stands by right; where nobody can tell, half a band should be gone.
    expect(causeOf(since(90, 690), { ...usual, quietShare: 0.4 }, visit)).toEqual([]);
    expect(causeOf(since(90, 690), { ...usual, fallKPaPerMin: 0.7, quietShare: null }, visit)).toEqual([]);
    expect(causeOf(since(110, 690), { ...usual, fallKPaPerMin: 0.7, quietShare: null }, visit)).toEqual(['valve-left-shut']);
    // Its gauge had stood at that value for hours before the work.
    expect(causeOf({ ...since(90, 690), tankHours: [1, 2, 3].map((hours) => [Date.parse(visit.startedAt) - hours * HOUR_MS, 690] as const) }, usual, visit)).toEqual([]);
    // Half an hour is enough where a third of the band should be gone, and it is told that it rests.
    const told = { ...since(35, 699), running: false, sinceMs: NOW_MS - 35 * MINUTE_MS };
    expect(causeOf(told, { ...usual, fallKPaPerMin: 2 }, visit)).toEqual(['valve-left-shut']);
    expect(causeOf({ ...told, running: null }, { ...usual, fallKPaPerMin: 2 }, visit)).toEqual([]);
    // The hour meter was last heard before the work's end: only where no run slips between two samples of the tank does that not matter.
    const read = (minutesAgo: number) => ({ ...since(90, 690), meterStillMs: 0, meterSinceMs: NOW_MS - minutesAgo * MINUTE_MS });
    expect(causeOf(read(70), usual, visit)).toEqual([]);
    expect(causeOf({ ...read(70), tankShowsRuns: true }, usual, visit)).toEqual(['valve-left-shut']);
    // It went on since, whatever its gauge shows.
    expect(causeOf({ ...read(10), tankShowsRuns: true }, usual, visit)).toEqual([]);
    // It had fallen by 60 kPa before and while they worked, and stands since; the visit is logged hours later.
    const servedMs = Date.parse(visit.finishedAt!);
    const worked = { ...since((NOW_MS - servedMs) / MINUTE_MS + 180, 636), tankHours: [-2, -1, 0.4, 1.4].map((hours) => [servedMs + hours * HOUR_MS, hours < 0 ? 680 : 640] as const) };
    expect(NOW_MS - servedMs).toBeGreaterThan(1.4 * HOUR_MS);
    expect(causeOf(worked, usual, visit)).toEqual(['valve-left-shut']);
    expect(causeOf({ ...worked, tankHours: [] }, usual, visit)).toEqual([]);
  });

  test('a supply that was told of is so until a rest ends as rests did, though the tank itself leaks and is filled now and then', () => {
    const rests = (lastRestS: number): Partial<Normal> => ({ fallKPaPerMin: 2, cycles: { ...normal.cycles, last: [...normal.cycles.last, [NOW_MS - 30_000_000, 300, lastRestS, 550, 700]] } });
    const bypassed = { supplyOpen: true, sinceMs: NOW_MS - 20 * MINUTE_MS, tankKPa: 698 };
    expect(causeOf(bypassed, rests(28_000), visit)).toEqual(['supply-bypassed']);
    expect(causeOf(bypassed, rests(3300), visit)).toEqual([]);
    expect(causeOf({ ...bypassed, supplyOpen: false }, rests(28_000), visit)).toEqual([]);
    // Without piping pressure it did start, and so it isn't that.
    expect(causeOf({ ...bypassed, systemKPa: null, systemAtMs: null }, rests(28_000), visit)).toEqual(['valve-left-shut']);
    // It is drawn from again, or somebody has been there since.
    expect(causeOf({ ...bypassed, crestKPa: 700, tankKPa: 660 }, rests(28_000), visit)).toEqual([]);
    expect(causeOf(bypassed, rests(28_000), { ...visit, startedAt: '2026-06-01T11:00:00Z', finishedAt: '2026-06-01T11:50:00Z' })).toEqual([]);
  });

  test('after a visit, piping that stays let down while the compressor rests is not being filled: a valve is shut', () => {
    const low = { systemKPa: 2, systemLowSinceMs: NOW_MS - 3 * HOUR_MS };
    expect(causeOf(low, {}, visit)).toEqual(['valve-left-shut']);
    expect(causeOf({ ...low, filling: true }, {}, visit)).toEqual([]);
    expect(causeOf({ ...low, systemLowSinceMs: NOW_MS - 30 * MINUTE_MS }, {}, visit)).toEqual([]);
    // It starts far more often than it did: it isn't cut off, and loses more than it is given.
    const more = { ...normal.cycles, last: normal.cycles.last.map((cycle, index, all) => (index < all.length - 3 ? cycle : [cycle[0], cycle[1], 600, cycle[3], cycle[4]] as const)) };
    expect(causeOf(low, { cycles: more }, visit)).toEqual(['bleed-left-open']);
    expect(causeOf(low, {}, undefined)).toEqual([]);
    // The trip test that was going on then isn't over yet.
    const test = entrySchema.parse({ ...visit, id: 't', kind: 'trip-test', startedAt: '2026-06-01T09:10:00Z', finishedAt: undefined });
    expect(byClock({ ...resting, ...low }, normal, [visit, test])).toEqual([]);
  });

  test('after a visit, piping that goes below what it ever is and falls on is not fed, long before its margin is lost', () => {
    const sags = { systemKPa: 237, systemSags: true };
    expect(causeOf(sags, {}, visit)).toEqual(['valve-left-shut']);
    // Other risers still make the compressor run.
    expect(causeOf({ ...sags, running: true, sinceMs: NOW_MS - 4 * MINUTE_MS }, {}, visit)).toEqual(['valve-left-shut']);
    expect(causeOf({ ...sags, systemAtMs: NOW_MS - HOUR_MS }, {}, visit)).toEqual([]);
    expect(causeOf(sags, {}, { ...visit, startedAt: '2026-05-29T09:00:00Z', finishedAt: '2026-05-29T10:00:00Z' })).toEqual([]);
    expect(causeOf({ systemKPa: 237 }, {}, visit)).toEqual([]);
    expect(causeOf({ systemKPa: 237, systemSinks: true }, {}, visit)).toEqual(['valve-left-shut']);
    // It only comes down to what it usually holds, from where a bypass held it.
    expect(causeOf({ systemKPa: 239, systemSags: true }, {}, visit)).toEqual([]);
  });

  test('what fell while they worked on it is filled up again: so soon after a visit piping that is low is no shut valve', () => {
    const sags = { systemKPa: 237, systemSags: true };
    expect(causeOf(sags, {}, { ...visit, finishedAt: '2026-06-01T11:25:00Z' })).toEqual([]);
    expect(causeOf(sags, {}, { ...visit, finishedAt: '2026-06-01T11:15:00Z' })).toEqual(['valve-left-shut']);
  });

  test('the time of the work is none of a rest, and piping that had sagged since and is full again was let through, by no other supply', () => {
    const rest = { running: false, sinceMs: NOW_MS - 2 * HOUR_MS, tankHolds: true };
    expect(causeOf(rest, {}, { ...visit, finishedAt: '2026-06-01T11:50:00Z' })).toEqual([]);
    // Another supply is named once a whole rest has passed since; what is shut sooner.
    expect(causeOf(rest, {}, { ...visit, finishedAt: '2026-06-01T11:00:00Z' })).toEqual([]);
    expect(causeOf({ ...rest, systemKPa: null, systemAtMs: null }, {}, { ...visit, finishedAt: '2026-06-01T11:00:00Z' })).toEqual(['valve-left-shut']);
    expect(causeOf(rest, {}, { ...visit, finishedAt: '2026-06-01T10:50:00Z' })).toEqual(['supply-bypassed']);
    const earlier = { ...visit, startedAt: '2026-05-31T20:00:00Z', finishedAt: '2026-05-31T21:00:00Z' };
    const holds = { ...rest, supplyOpen: true, systemHours: [[NOW_MS - 5 * HOUR_MS, 239], [NOW_MS - HOUR_MS, 240]] as const };
    expect(causeOf(holds, {}, earlier)).toEqual(['supply-bypassed']);
    expect(causeOf({ ...holds, systemHours: [[NOW_MS - 5 * HOUR_MS, 220], [NOW_MS - HOUR_MS, 240]] }, {}, earlier)).toEqual([]);
  });

  test('piping that falls on past half of its margin is told without a visit, and while other risers draw', () => {
    const sags = { running: true, sinceMs: NOW_MS - 4 * MINUTE_MS, systemSags: true };
    expect(causeOf({ ...sags, systemKPa: 205 })).toEqual(['valve-left-shut']);
    expect(causeOf({ ...sags, systemKPa: 215 })).toEqual([]);
    expect(causeOf({ ...sags, systemKPa: 205, systemSags: false })).toEqual([]);
    expect(causeOf({ ...sags, systemKPa: 205, systemSags: false, systemSinks: true })).toEqual([]);
    // The only piping is drawn from and filled as ever, and was as low hours ago: its gauge drifts.
    const alone = { ...sags, pipings: 1, systemHours: [[NOW_MS - 6 * HOUR_MS, 208] as const, [NOW_MS - HOUR_MS, 206] as const] };
    expect(causeOf({ ...alone, systemKPa: 205 })).toEqual([]);
    expect(causeOf({ ...alone, systemKPa: 205, pipings: 2 })).toEqual(['valve-left-shut']);
    expect(causeOf({ ...alone, systemKPa: 205, systemHours: [[NOW_MS - 6 * HOUR_MS, 230]] })).toEqual(['valve-left-shut']);
    expect(causeOf({ ...alone, systemKPa: 205, running: false, sinceMs: NOW_MS - 2 * HOUR_MS, supplyOpen: true, systemHours: [[NOW_MS - 6 * HOUR_MS, 208]] })).toContain('valve-left-shut');
    // The tank itself is empty.
    expect(causeOf({ ...sags, systemKPa: 205, tankKPa: 300 })).toEqual([]);
    // The mains have just come back.
    expect(causeOf({ ...sags, systemKPa: 205, powerSinceMs: NOW_MS - HOUR_MS })).toEqual([]);
    // By a regulator that crept it had stood higher than it is set.
    expect(causeOf({ ...sags, systemKPa: 215 }, { systemKPa: 280 })).toEqual([]);
    // Let down at once: a test.
    expect(causeOf({ ...sags, systemKPa: 90 })).toEqual([]);
  });

  test('piping that a repair lets fill again draws more, and no bleed is open', () => {
    const recent = cycles(Array.from({ length: 30 }, () => 700), NOW_MS - 3 * HOUR_MS);
    const again = (minutesAgo: number): void => rememberCycle(recent, { generator: 'a/b' as GeneratorKey, startMs: NOW_MS - minutesAgo * MINUTE_MS, runS: 300, restS: 1200, source: 'running', cut: false, fallKPaPerMin: 6, riseKPaPerMin: 30, startKPa: 550, stopKPa: 700 });
    for (const minutesAgo of [115, 90, 65, 40]) again(minutesAgo);
    expect(causeOf({}, { cycles: recent }, visit)).toEqual(['bleed-left-open']);
    expect(causeOf({ systemKPa: 225, systemRises: true }, { cycles: recent }, visit)).toEqual([]);
    // A bleed that is large enough lets it droop.
    expect(causeOf({ systemKPa: 225 }, { cycles: recent }, visit)).toContain('bleed-left-open');
  });

  test('rests may have grown longer where something of demand was mended, and not where elements were changed', () => {
    const rested = { running: false, sinceMs: NOW_MS - 70 * MINUTE_MS, tankHolds: true };
    const busyDays = { baselineRestS: 3 * 3600 };
    expect(causeOf(rested, busyDays, { ...visit, replaced: ['coalescing-element'] })).toEqual(['supply-bypassed']);
    expect(causeOf(rested, busyDays, { ...visit, replaced: ['o-rings'] })).toEqual([]);
    expect(causeOf(rested, busyDays, visit)).toEqual([]);
    expect(causeOf({ ...rested, sinceMs: NOW_MS - 56 * MINUTE_MS }, busyDays, { ...visit, replaced: ['coalescing-element'] })).toEqual([]);
    // A leak that had been found, and was over after the visit, made rests short.
    expect(causeOf({ ...rested, demandOverMs: NOW_MS - HOUR_MS }, { baselineRestS: 3600 }, { ...visit, replaced: ['coalescing-element'] })).toEqual([]);
    expect(causeOf({ ...rested, demandOverMs: NOW_MS - 4 * HOUR_MS }, { baselineRestS: 3600 }, { ...visit, replaced: ['coalescing-element'] })).toEqual(['supply-bypassed']);
  });

  test('of a tank that stands after a visit, piping that holds for longer than usual rests is fed by another supply', () => {
    const served = (hours: number): typeof visit => ({ ...visit, startedAt: new Date(NOW_MS - (hours + 1) * HOUR_MS).toISOString(), finishedAt: new Date(NOW_MS - hours * HOUR_MS).toISOString(), replaced: ['coalescing-element'] });
    const stands = { running: null, sinceMs: null, heardMs: null, tankHolds: null, tankKPa: 690, crestKPa: 700, crestAtMs: NOW_MS - 4 * HOUR_MS };
    const known = { fallKPaPerMin: 1, cycles: cycles(Array.from({ length: 30 }, () => 700), NOW_MS - 30 * HOUR_MS) };
    expect(byClock({ ...resting, ...stands }, { ...normal, ...known }, [served(5)])[0]).toMatchObject({ cause: 'valve-left-shut', causes: [{ probability: 0.85 }, { cause: 'supply-bypassed' }] });
    expect(causeOf(stands, known, served(7))).toEqual(['supply-bypassed']);
    // It falls within its regulator's band: for a day nobody knows.
    expect(causeOf({ ...stands, systemFalls: true }, known, served(7))).toEqual(['valve-left-shut']);
    expect(causeOf({ ...stands, systemFalls: true }, known, served(25))).toEqual(['supply-bypassed']);
    expect(causeOf({ ...stands, systemKPa: 234 }, known, served(25))).toEqual(['valve-left-shut']);
    // Nobody sends the piping's pressure.
    expect(byClock({ ...resting, ...stands, systemKPa: null, systemAtMs: null }, { ...normal, ...known }, [served(25)])[0]).toMatchObject({ cause: 'valve-left-shut', causes: [{ probability: 0.75 }, { cause: 'supply-bypassed', probability: 0.25 }] });
  });

  test('where no run state is sent, a shut valve or a bypass goes on while rests are far too long, though the tank is filled now and then', () => {
    // Three weeks of hours, and since the visit rests of ten: by then the last cycles say that such rests are usual.
    const since = startRecentCycles();
    const add = (startMs: number, restS: number): void => rememberCycle(since, { generator: 'a/b' as GeneratorKey, startMs, runS: 300, restS, source: 'tank-pressure', cut: false, fallKPaPerMin: 2, riseKPaPerMin: 30, startKPa: 550, stopKPa: 700 });
    for (let hour = 26 * 24; hour > 121; hour -= 1) add(NOW_MS - hour * HOUR_MS, 3300);
    for (let hour = 120; hour > 0; hour -= 10) add(NOW_MS - hour * HOUR_MS, 10 * 3600 - 300);
    const served = { ...visit, startedAt: new Date(NOW_MS - 122 * HOUR_MS).toISOString(), finishedAt: new Date(NOW_MS - 121 * HOUR_MS).toISOString() };
    const filled = { running: null, sinceMs: null, heardMs: null, tankHolds: null, tankKPa: 699, crestKPa: 700, crestAtMs: NOW_MS - 10 * MINUTE_MS, supplyOpen: true };
    const known = { cycles: since, usualDayRestS: 0, fallKPaPerMin: 2.5 };
    expect(byClock({ ...resting, ...filled }, { ...normal, ...known }, [served])[0]).toMatchObject({ cause: 'supply-bypassed', evidence: [{ says: 'Since the visit of 27 May rests are far too long: the last took 9.9 h; usual rests end within 3.7 h.' }, {}] });
    expect(causeOf({ ...filled, systemKPa: null, systemAtMs: null }, known, served)).toEqual(['valve-left-shut']);
    // Nobody told of it before, or the tank is drawn from again.
    expect(causeOf({ ...filled, supplyOpen: false }, known, served)).toEqual([]);
    expect(causeOf({ ...filled, tankKPa: 660, crestAtMs: NOW_MS - 20 * MINUTE_MS }, known, served)).toEqual([]);
  });

  test('piping that sags while the compressor rests on, though nobody was there, most likely doesn\'t start where no tank tells', () => {
    const sags = { sinceMs: NOW_MS - 5 * HOUR_MS, tankKPa: null, tankAtMs: null, systemKPa: 210 };
    expect(byClock({ ...resting, ...sags }, normal, [])[0]).toMatchObject({ slot: 'running', cause: 'not-starting', causes: [{ probability: 0.65 }, { cause: 'valve-left-shut' }, { cause: 'leak' }] });
    expect(causeOf(sags, {}, visit)).toEqual(['valve-left-shut']);
    expect(byClock({ ...resting, ...sags, tankKPa: 650, tankAtMs: NOW_MS }, normal, [])[0]).toMatchObject({ slot: 'supply', cause: 'valve-left-shut' });
    // It goes on though the piping is nearly empty by now.
    expect(causeOf({ ...sags, systemKPa: 60 })).toEqual([]);
    expect(causeOf({ ...sags, systemKPa: 60, missedStartMs: NOW_MS - HOUR_MS })).toEqual(['not-starting']);
  });

  test('after work that takes demand away by right, a rest that outlasts all others while the tank loses hardly anything is a shut valve', () => {
    const mended = { ...visit, replaced: ['o-rings' as const] };
    const rest = { sinceMs: NOW_MS - 4 * HOUR_MS, tankHolds: false, tankKPa: 660, crestKPa: 700, crestAtMs: NOW_MS - 4 * HOUR_MS, systemKPa: null, systemAtMs: null, tankHours: [[Date.parse(visit.finishedAt!) + 10 * MINUTE_MS, 668]] as const };
    expect(causeOf(rest, { fallKPaPerMin: 0.6 }, mended)).toEqual(['valve-left-shut']);
    expect(causeOf({ ...rest, tankKPa: 640 }, { fallKPaPerMin: 0.6 }, mended)).toEqual([]);
    expect(causeOf({ ...rest, sinceMs: NOW_MS - 50 * MINUTE_MS }, { fallKPaPerMin: 0.6 }, mended)).toEqual([]);
  });

  test('by a duty ratio alone, the first rest after a visit that outlasts those of the weeks before is told as a shut valve, until a rest ends as rests did', () => {
    const alone = { running: null, sinceMs: null, heardMs: null, tankHolds: null, tankKPa: null, tankAtMs: null, crestKPa: null, crestAtMs: null, systemKPa: null, systemAtMs: null };
    const usual = { cycles: startRecentCycles(), sees: seesOf(new Set(['duty'])), usualTold: { runS: 600, restS: 3600 } };
    // Usual rests end within an hour and two reports: the rest since the visit began at nine and must be longer than 1.65 h.
    const rest = { sinceMs: NOW_MS - 100 * MINUTE_MS, heardMs: NOW_MS, spanS: 900, lastRestS: 1800 };
    expect(causeOf({ ...alone, toldRest: rest }, usual, visit)).toEqual(['valve-left-shut']);
    const told = byClock({ ...resting, ...alone, toldRest: rest }, { ...normal, ...usual }, [visit])[0]!;
    expect(told.evidence[0]!.says).toBe('The compressor has rested for 100 min; usual rests end within 90 min. It is the first rest after the visit of 1 Jun.');
    expect(told.missingChannels).toEqual(['system-pressure']);
    expect(causeOf({ ...alone, toldRest: { ...rest, sinceMs: NOW_MS - 98 * MINUTE_MS } }, usual, visit)).toEqual([]);
    expect(causeOf({ ...alone, toldRest: rest }, usual)).toEqual([]);
    expect(causeOf({ ...alone, toldRest: rest }, { ...usual, usualTold: null }, visit)).toEqual([]);
    // Where nobody was, twice as long as any rest of the weeks before is no chance, and most likely a start that doesn't come.
    const [restsOn] = byClock({ ...resting, ...alone, toldRest: { ...rest, sinceMs: NOW_MS - 181 * MINUTE_MS } }, { ...normal, ...usual }, []);
    expect(restsOn).toMatchObject({ slot: 'running', cause: 'not-starting', missingChannels: ['tank-pressure'], evidence: [{ says: 'The compressor has rested for 3 h, by its meter; usual rests end within 90 min. No pressure is sent that would tell whether it should have started.' }] });
    expect(causeOf({ ...alone, toldRest: { ...rest, sinceMs: NOW_MS - 179 * MINUTE_MS } }, usual)).toEqual([]);
    expect(causeOf({ ...alone, toldRest: { ...rest, sinceMs: NOW_MS - 181 * MINUTE_MS, lastRestS: 9000 } }, usual)).toEqual([]);
    // By its run state alone too; not where a tank or the piping tells more, nor soon after a visit.
    const rests = { tankKPa: null, tankAtMs: null, crestKPa: null, crestAtMs: null, systemKPa: null, systemAtMs: null, sinceMs: NOW_MS - 181 * MINUTE_MS };
    const longest = { cycles: { ...normal.cycles, usual: { ...normal.cycles.usual!, longestRestS: 5400 } } };
    expect(byClock({ ...resting, ...rests }, { ...normal, ...longest }, [])[0]).toMatchObject({ slot: 'running', cause: 'not-starting', causes: [{ probability: 0.6 }, { cause: 'supply-bypassed' }, { cause: 'valve-left-shut' }], missingChannels: ['tank-pressure'] });
    expect(causeOf({ ...rests, sinceMs: NOW_MS - 179 * MINUTE_MS }, longest)).toEqual([]);
    expect(causeOf({ ...rests, tankKPa: 600, tankAtMs: NOW_MS }, longest)).toEqual([]);
    expect(byClock({ ...resting, ...rests }, { ...normal, ...longest }, [{ ...visit, startedAt: '2026-05-20T09:00:00Z', finishedAt: '2026-05-20T10:00:00Z' }])).toEqual([]);
    // A later rest is none that the visit began.
    expect(causeOf({ ...alone, toldRest: rest }, usual, { ...visit, startedAt: '2026-06-01T07:00:00Z', finishedAt: '2026-06-01T08:00:00Z' })).toEqual([]);
    // What leaks at the tank alone makes it run now and then.
    const leaks = { ...rest, sinceMs: NOW_MS - 15 * MINUTE_MS, lastRestS: 5 * 3600 };
    expect(causeOf({ ...alone, toldRest: leaks, supplyOpen: true }, usual, visit)).toEqual(['valve-left-shut']);
    expect(causeOf({ ...alone, toldRest: { ...leaks, lastRestS: 2 * 3600 }, supplyOpen: true }, usual, visit)).toEqual([]);
    // A rest that was more than half over when they came must go on for half of the longest since; one that began in an overfull tank, for twice as long.
    const slow = { ...usual, usualTold: { runS: 600, restS: 4 * 3600 } };
    const long = { ...rest, sinceMs: NOW_MS - 5.2 * HOUR_MS };
    expect(causeOf({ ...alone, toldRest: long }, slow, visit)).toEqual([]);
    expect(causeOf({ ...alone, toldRest: long }, slow, { ...visit, startedAt: '2026-06-01T08:00:00Z', finishedAt: '2026-06-01T08:40:00Z' })).toEqual(['valve-left-shut']);
    expect(causeOf({ ...alone, toldRest: rest, endlessOverMs: NOW_MS - 90 * MINUTE_MS }, usual, visit)).toEqual([]);
    expect(causeOf({ ...alone, toldRest: rest, endlessOverMs: NOW_MS - 110 * MINUTE_MS }, usual, visit)).toEqual(['valve-left-shut']);
    // Pressures tell more.
    expect(causeOf({ ...alone, toldRest: rest, systemKPa: 240, systemAtMs: NOW_MS }, usual, visit)).toEqual([]);
  });

  test('where no run state is sent, an hour meter or a duty ratio that says it ran all the time is a run without end', () => {
    const meter = { running: null, sinceMs: null, heardMs: null, tankHolds: null, tankKPa: 720, full: { sinceMs: NOW_MS - 70 * MINUTE_MS, heardMs: NOW_MS - 5 * MINUTE_MS, times: 4 } };
    expect(causeOf(meter)).toEqual(['runs-without-end']);
    expect(causeOf({ ...meter, full: null })).toEqual([]);
    expect(causeOf({ ...meter, full: { ...meter.full, sinceMs: NOW_MS - 50 * MINUTE_MS } })).toEqual([]);
    // With no tank either: by an hour meter and its starts, whose mean runs say how long is long, or by the runs that its shares tell.
    const counted = { ...meter, tankKPa: null, tankAtMs: null };
    expect(causeOf(counted)).toEqual(['runs-without-end']);
    expect(causeOf(counted, { cycles: startRecentCycles(), countedRunS: 600 })).toEqual(['runs-without-end']);
    expect(causeOf(counted, { cycles: startRecentCycles(), countedRunS: 1800 })).toEqual([]);
    const byShares = { cycles: startRecentCycles(), usualTold: { runS: 600, restS: 7200 } };
    expect(causeOf(counted, byShares)).toEqual(['runs-without-end']);
    expect(causeOf(counted, { ...byShares, usualTold: { runS: 1800, restS: 7200 } })).toEqual([]);
    // A duty ratio alone may be that of a leak.
    expect(causeOf(counted, { ...byShares, sees: seesOf(new Set(['duty'])) })).toEqual([]);
    // A run state that is sent knows better.
    expect(causeOf({ ...resting, full: meter.full })).toEqual([]);
  });
});

describe('a rest far longer than any, with nobody there', () => {
  // Usual rests end within an hour, and the tank has hardly fallen in this one.
  const rests = (restH: number): Partial<Present> => ({ sinceMs: NOW_MS - restH * HOUR_MS, tankKPa: 690, crestAtMs: NOW_MS - restH * HOUR_MS });

  test('piping that holds meanwhile is fed by another supply; unsent it may be shut off as well', () => {
    expect(byClock({ ...resting, ...rests(3) }, normal, [])).toMatchObject([{ slot: 'supply', cause: 'supply-bypassed', urgent: true }]);
    expect(causeOf({ ...rests(3), systemKPa: null })).toEqual([]);
    expect(byClock({ ...resting, ...rests(5), systemKPa: null }, normal, [])).toMatchObject([{ cause: 'undetermined', among: ['supply-bypassed', 'valve-left-shut'], missingChannels: ['system-pressure'] }]);
  });

  test('warm piping, a purge before it, days that rested as long, mended leaks and a tank that is drawn from say nothing', () => {
    expect(causeOf(rests(1.5))).toEqual([]);
    expect(causeOf({ ...rests(3), systemKPa: 244 })).toEqual([]);
    const purge = entrySchema.parse({ id: 'p', site: 'a', generator: 'b', kind: 'purge', startedAt: '2026-05-31T12:00:00Z', finishedAt: '2026-05-31T22:00:00Z' });
    expect(causeOf(rests(3), {}, purge)).toEqual([]);
    expect(causeOf(rests(3), { usualDayRestS: 2 * 3600 })).toEqual([]);
    expect(causeOf({ ...rests(3), demandOpen: true })).toEqual([]);
    expect(causeOf({ ...rests(3), tankKPa: 600 }, { fallKPaPerMin: 0.5 })).toEqual([]);
  });

  test('slow generators wait for the days where no piping pressure is sent, and once it was said it goes on with the last whole rest', () => {
    const slow = { cycles: { ...normal.cycles, last: normal.cycles.last.map(([startMs, runS, , startKPa, stopKPa]) => [startMs, runS, 5 * 3600, startKPa, stopKPa] as const) } };
    expect(causeOf({ ...rests(30), systemKPa: null }, slow)).toEqual([]);
    const far = { cycles: { ...normal.cycles, last: [...normal.cycles.last, [NOW_MS - 5 * HOUR_MS, 300, 4 * 3600, 550, 700] as const] } };
    expect(causeOf({ ...rests(0.5), supplyOpen: true }, far)).toEqual(['supply-bypassed']);
  });
});

describe('by the tank alone', () => {
  const alone = { running: null, sinceMs: null, heardMs: null, tankHolds: null, tankShowsRuns: true, tankShowsRests: true };
  const trail = (kPaPerHour: number, nowKPa: number): Present['tankTrail'] => Array.from({ length: 7 }, (_, index) => [NOW_MS - (6 - index) * 10 * MINUTE_MS, nowKPa + (kPaPerHour * (6 - index)) / 6] as const);

  test('a tank that goes on falling below its start at the pace of its rests is not started', () => {
    // 150 kPa in 55 min are usual.
    const falls = { ...alone, tankKPa: 480, crestKPa: 700, crestAtMs: NOW_MS - 80 * MINUTE_MS, belowSinceMs: NOW_MS - 32 * MINUTE_MS, tankTrail: trail(160, 480) };
    const [condition] = byClock({ ...resting, ...falls }, normal, []);
    expect(condition).toMatchObject({ slot: 'running', cause: 'not-starting', evidence: [{ says: 'The tank is at 480 kPa, below its usual start at 550 kPa for 32 min, and falls on as in a rest: the compressor has not started.' }] });
    expect(causeOf({ ...falls, belowSinceMs: NOW_MS - 28 * MINUTE_MS })).toEqual([]);
    // It rose meanwhile, it falls faster than in any rest, its gauge jumped, or its samples don't show runs.
    expect(causeOf({ ...falls, tankTrail: [...trail(160, 480).slice(0, -1), [NOW_MS, 510]] })).toEqual([]);
    expect(causeOf({ ...falls, tankHours: [[NOW_MS - 70 * MINUTE_MS, 700], [NOW_MS - 30 * MINUTE_MS, 430]] })).toEqual([]);
    expect(causeOf({ ...falls, tankHours: [[NOW_MS - 70 * MINUTE_MS, 700], [NOW_MS - 30 * MINUTE_MS, 560]] })).toEqual(['not-starting']);
    expect(causeOf({ ...falls, belowSuddenly: true })).toEqual([]);
    expect(causeOf({ ...falls, tankShowsRests: false })).toEqual([]);
    // A run that slips between two samples would have left it fuller.
    expect(causeOf({ ...falls, tankShowsRuns: false })).toEqual(['not-starting']);
    // It began to rest below its start: it was let down, and is filled again.
    expect(causeOf({ ...falls, crestKPa: 540, crestAtMs: NOW_MS - 40 * MINUTE_MS })).toEqual([]);
    // A duty ratio says that it ran of late.
    expect(causeOf({ ...falls, isMetered: true })).toEqual([]);
  });

  test('a tank that fell below its start in a burst, or whose gauge jumped, is not started when the longest rest is long past and nothing filled it', () => {
    const burst = { ...alone, tankKPa: 470, crestKPa: 700, crestAtMs: NOW_MS - 6 * HOUR_MS, belowSuddenly: true, belowSinceMs: NOW_MS - 5 * HOUR_MS, tankTrail: trail(3, 470), tankHours: [[NOW_MS - 5.5 * HOUR_MS, 620], [NOW_MS - 4.5 * HOUR_MS, 480], [NOW_MS - 2 * HOUR_MS, 475], [NOW_MS - HOUR_MS, 472]] satisfies Present['tankHours'] };
    expect(causeOf(burst)).toEqual(['not-starting']);
    expect(causeOf({ ...burst, belowSinceMs: NOW_MS - HOUR_MS })).toEqual([]);
    expect(causeOf({ ...burst, tankHours: [...burst.tankHours.slice(0, 2), [NOW_MS - 2 * HOUR_MS, 610], [NOW_MS - HOUR_MS, 480]] })).toEqual([]);
  });

  test('a tank that stands above its stop and loses hardly any of what a rest takes is filled on', () => {
    const hours = (kPa: number): Present['tankHours'] => [[NOW_MS - 3 * HOUR_MS, 640], [NOW_MS - 2 * HOUR_MS, kPa], [NOW_MS - HOUR_MS, kPa]];
    const stands = { ...alone, tankKPa: 765, tankHours: hours(768) };
    expect(byClock({ ...resting, ...stands }, normal, [])[0]).toMatchObject({ slot: 'running', cause: 'runs-without-end', letsOff: true, hides: ['demand', 'delivery', 'duty', 'set-point'] });
    // It falls as in a rest, or stands at its stop.
    expect(causeOf({ ...stands, tankHours: [[NOW_MS - 3 * HOUR_MS, 640], [NOW_MS - 2 * HOUR_MS, 960], [NOW_MS - HOUR_MS, 860]] })).toEqual([]);
    expect(causeOf({ ...stands, tankKPa: 712, tankHours: hours(713) })).toEqual([]);
    expect(causeOf(stands, { cutOutKPa: 760 })).toEqual([]);
    expect(causeOf({ ...stands, tankHours: hours(768).slice(2) })).toEqual([]);
  });
});

test('rememberCycle() takes no rest that ended far below the usual start for a usual one', () => {
  const recent = startRecentCycles();
  const cycle = (index: number, restS: number, startKPa: number): void => rememberCycle(recent, { generator: 'a/b' as GeneratorKey, startMs: NOW_MS + index * HOUR_MS, runS: 300, restS, source: 'running', cut: false, fallKPaPerMin: 2, riseKPaPerMin: 30, startKPa, stopKPa: 700 });
  for (let index = 0; index < 40; index += 1) cycle(index, index === 20 ? 100_000 : 3300 + (index % 5), index === 21 ? 200 : 550);
  expect(recent.usual!.longestRestS).toBeLessThan(3400);
  // One that ended at the usual start is usual, however long it was.
  const slow = startRecentCycles();
  for (let index = 0; index < 40; index += 1) rememberCycle(slow, { generator: 'a/b' as GeneratorKey, startMs: NOW_MS + index * HOUR_MS, runS: 300, restS: index === 20 ? 100_000 : 3300 + (index % 5), source: 'running', cut: false, fallKPaPerMin: 2, riseKPaPerMin: 30, startKPa: 550, stopKPa: 700 });
  expect(slow.usual!.longestRestS).toBeGreaterThan(50_000);
  // Where runs are cut short most starts come early, and the rest until the tank's own start is a usual one.
  const cut = startRecentCycles();
  cut.weeks = [{ startMs: 0, demand: 0, delivery: 0, bandKPa: 150, startKPa: 550, stopKPa: 700 }];
  for (let index = 0; index < 40; index += 1) rememberCycle(cut, { generator: 'a/b' as GeneratorKey, startMs: NOW_MS + index * HOUR_MS, runS: 120, restS: index % 4 === 3 ? 9000 : 720, source: 'running', cut: false, fallKPaPerMin: 2, riseKPaPerMin: 30, startKPa: index % 4 === 0 ? 550 : 640, stopKPa: 660 });
  expect(cut.usual!.longestRestS).toBeGreaterThan(8000);
});
