// Reference: an ideal tank, second by second, written for these tests alone (ideal-tank.ts).
import { describe, expect, test } from 'vitest';
import { fold, idealTank, type Row, setupOf, START_MS } from './ideal-tank.ts';

const steady = { hours: 51, demand: () => 3, delivery: () => 25, noiseKPa: 0.3 };

test('stepDescriptors() finds run, rest, starts, demand and delivery from run state and tank pressure', () => {
  const world = idealTank(steady);
  const { days, cycles } = fold(world.rows, setupOf({ tankLitres: 100 }));
  expect(days.map((day) => day.day)).toEqual(['2026-03-02', '2026-03-03']);
  expect(cycles).toHaveLength(world.starts - 1);
  for (const day of days) {
    expect(day.source).toBe('running');
    expect(day.unit).toBe('NL/min');
    expect(day.coveredS).toBeCloseTo(86_400, 6);
    // Noise of 0.3 kPa on some 30 rests of 130 kPa leaves well under 1 %.
    expect(day.demand!.value).toBeGreaterThan(2.97);
    expect(day.demand!.value).toBeLessThan(3.03);
    expect(day.delivery!.value).toBeGreaterThan(24.75);
    expect(day.delivery!.value).toBeLessThan(25.25);
    expect(day.dutyRatio! * day.delivery!.value).toBeCloseTo(day.demand!.value, 0);
  }
});

test('stepDescriptors() gives the mean demand of a day in which it changes, and each quarter its own', () => {
  const { days, quarters } = fold(idealTank({ ...steady, demand: (atS) => (atS >= 30 * 3600 ? 6 : 3) }).rows, setupOf({ tankLitres: 100 }));
  // 6 h at 3 and 18 h at 6; rests are longer in the first, and settled rest is what weighs.
  expect(days[1]!.demand!.value).toBeGreaterThan(4.9);
  expect(days[1]!.demand!.value).toBeLessThan(5.4);
  expect(days[1]!.delivery!.value).toBeCloseTo(25, 0);
  expect(quarters[4]!.demand!.value).toBeCloseTo(3, 1);
  expect(quarters[6]!.demand!.value).toBeCloseTo(6, 1);
});

test('stepDescriptors() reads where a run stopped from the first sample of its rest, where bowls that fill made the run seem slower', () => {
  const rows: Row[] = [];
  for (let cycle = 0; cycle < 6; cycle += 1) {
    const startMs = START_MS + cycle * 6 * 3_600_000;
    const tank = (atS: number, value: number): Row => ({ channel: 'tank-pressure', atMs: startMs + atS * 1000, value });
    rows.push({ channel: 'running', atMs: startMs, value: 1 }, tank(75, 478), tank(375, 545), { channel: 'running', atMs: startMs + 643_000, value: 0 }, tank(675, 643), tank(975, 635));
    for (let atS = 1275; atS < 21_600; atS += 300) rows.push(tank(atS, 635 - (150 * (atS - 1275)) / 20_325), ...(atS % 3600 === 1275 ? [{ channel: 'running', atMs: startMs + (atS + 1) * 1000, value: 0 } as const] : []));
  }
  const { cycles } = fold(rows, setupOf({ tankLitres: 100, reportEveryS: 300 }));
  expect(cycles.map((one) => one.stopKPa)).toEqual([643, 643, 643, 643, 643]);
});

test('stepDescriptors() reads where a run started from a sample soon after it, where a burst came after the last one of the rest', () => {
  const rows: Row[] = [];
  for (let cycle = 0; cycle < 6; cycle += 1) {
    const startMs = START_MS + cycle * 3_600_000;
    const tank = (atS: number, value: number): Row => ({ channel: 'tank-pressure', atMs: startMs + atS * 1000, value });
    rows.push({ channel: 'running', atMs: startMs, value: 1 }, tank(50, 481), { channel: 'running', atMs: startMs + 600_000, value: 0 }, tank(950, 650), tank(1850, 610), tank(2750, 570), tank(3300, 548));
  }
  const { cycles } = fold(rows, setupOf({ tankLitres: 100, reportEveryS: 900 }));
  expect(cycles.slice(1).map((one) => one.startKPa)).toEqual([481, 481, 481, 481]);
});

test('where no run state is sent the head tells a run, and with it the drop over the elements', () => {
  // One look at both gauges in a quarter of an hour, one in eight of them in a run; the head is let down in rests.
  const looks = (drop: number, restKPa: number): Row[] => Array.from({ length: 96 * 5 }, (_, index) => {
    const atMs = START_MS + index * 900_000;
    const up = index % 8 === 3;
    const feed = up ? 600 + 20 * (index % 5) : restKPa;
    return [{ channel: 'discharge-pressure', atMs, value: up ? feed + drop : restKPa }, { channel: 'feed-pressure', atMs, value: feed }, { channel: 'run-time', atMs, value: 300 * index }] as Row[];
  }).flat();
  const { days } = fold(looks(22, 3), setupOf({ reportEveryS: 900 }));
  expect(days.slice(1).map((day) => Math.round(day.elementDropKPa?.value ?? NaN))).toEqual(days.slice(1).map(() => 22));
  // A head that stays up tells nothing.
  expect(fold(looks(22, 590), setupOf({ reportEveryS: 900 })).days.map((day) => day.elementDropKPa)).toEqual(days.map(() => null));
});

test('what a riser usually holds is not learned from a supply that is shut, however often it reports', () => {
  const usualAfter = (everyS: number, restKPa: (hour: number) => number): number => {
    const rows: Row[] = [];
    for (let atS = 0; atS < 96 * 3600; atS += everyS) rows.push({ channel: 'system-pressure', atMs: START_MS + atS * 1000, value: atS < 24 * 3600 ? 240 : restKPa(atS / 3600 - 24) });
    return fold(rows, setupOf({})).state.usualSystemKPa['system-pressure']!;
  };
  for (const everyS of [30, 900]) expect(usualAfter(everyS, (hour) => Math.max(0, 240 - 3 * hour))).toBeGreaterThan(200);
  // Another pressure that is held is learned within days.
  expect(usualAfter(60, () => 225)).toBeLessThan(230);
});

describe('by the tank alone', () => {
  test.each([[10, 0.02], [60, 0.03], [300, 0.12]] as const)('stepDescriptors() finds the cycles at a sample in %d s', (sampleS, within) => {
    const world = idealTank({ ...steady, hours: 75, sampleS, sends: ['tank-pressure'] });
    const { days, cycles } = fold(world.rows, setupOf({ tankLitres: 100, reportEveryS: sampleS }));
    expect(cycles.filter((cycle) => !cycle.cut).length).toBeGreaterThan(world.starts - 3);
    const day = days.at(-1)!;
    expect(day.source).toBe('tank-pressure');
    expect(Math.abs(day.demand!.value / 3 - 1)).toBeLessThan(0.01);
    // Runs of 6 min: at a sample in 5 min the ends of the band are read from many cycles, and the stated error says how sure that is.
    expect(Math.abs(day.delivery!.value / 25 - 1)).toBeLessThan(within);
    expect(Math.abs(day.delivery!.value - 25)).toBeLessThan(2 * day.delivery!.se);
    // A day may hold a run more or less.
    expect(Math.abs(day.dutyRatio! / 0.12 - 1)).toBeLessThan(Math.max(0.04, within));
  });

  test('stepDescriptors() reads demand from a tight tank that does not start all day', () => {
    const { days } = fold(idealTank({ ...steady, demand: () => 0.05, sends: ['tank-pressure'] }).rows, setupOf({ tankLitres: 100 }));
    expect(days[0]!.starts).toBe(0);
    expect(days[0]!.dutyRatio).toBe(0);
    expect(Math.abs(days[0]!.demand!.value / 0.05 - 1)).toBeLessThan(0.03);
    expect(days[0]!.delivery).toBeNull();
    expect(days[0]!.longestRestS).toBeGreaterThan(86_000);
  });
});

describe('at duty 1', () => {
  test('stepDescriptors() goes on telling the drop over the elements in a run that never ends, though its piping was let down and filled meanwhile', () => {
    const rows: Row[] = [];
    for (let minute = 0; minute < 9 * 1440; minute += 5) {
      const atMs = START_MS + minute * 60_000;
      // Ten minutes of each hour for two days, then all the time; a trip test on the third day.
      const runs = minute >= 2 * 1440 || minute % 60 < 10;
      const letDown = minute >= 3 * 1440 && minute < 3 * 1440 + 120;
      if (minute % 60 < 15 && minute % 5 === 0) rows.push({ channel: 'running', atMs, value: runs ? 1 : 0 });
      rows.push({ channel: 'discharge-pressure', atMs, value: runs ? 700 : 0 }, { channel: 'feed-pressure', atMs, value: runs ? 690 : 0 }, { channel: 'system-pressure', atMs, value: letDown ? 40 : 240 });
    }
    const { days } = fold(rows, setupOf({ tankLitres: 100, reportEveryS: 300 }));
    expect(days.slice(2).map((day) => day.elementDropKPa?.value ?? null)).toEqual([10, null, null, 10, 10, 10]);
    expect(days.map((day) => Math.round(100 * day.holdingRatio) / 100).slice(-3)).toEqual([1, 1, 1]);
  });

  // From noon of the second day on a leak draws more, or a little less, than is made; demand is known of neither.
  test.each([[31, -6], [24.6, 0.4]])('stepDescriptors() tells by the sign of the slope that %d NL/min stand against 25 made', (drawn, net) => {
    const { days } = fold(idealTank({ ...steady, hours: 74, litres: 2000, demand: (atS) => (atS < 36 * 3600 ? 3 : drawn) }).rows, setupOf({ tankLitres: 2000 }), START_MS + 74 * 3_600_000);
    expect(days[0]!.fullRunKPaPerHour).toBeNull();
    const day = days[2]!;
    expect(day.demand).toBeNull();
    // 2,000 L hold 18.4 NL for each kPa at 20 °C.
    expect(Math.abs(day.fullRunKPaPerHour! / ((net * 60) / 18.4) - 1)).toBeLessThan(0.05);
  });
});

describe('other sources', () => {
  test('stepDescriptors() takes run time and starts from counters, and knows a reset', () => {
    const world = idealTank({ ...steady, sends: ['run-time', 'starts'] });
    const reset = world.rows.map((row) => (row.channel === 'run-time' && row.atMs > START_MS + 36 * 3_600_000 ? { ...row, value: Math.max(0, row.value - 15_000) } : row));
    const plain = fold(world.rows, setupOf()).days[1]!;
    const broken = fold(reset, setupOf()).days[1]!;
    expect(plain.source).toBe('counters');
    expect(plain.dutyRatio).toBeCloseTo(0.12, 2);
    expect(plain.unit).toBe('relative');
    // 28 cycles of 3,142 s.
    expect(plain.demand!.value / (60 / 2765)).toBeCloseTo(1, 1);
    expect(broken.dutyRatio).toBeCloseTo(plain.dutyRatio!, 3);
    expect(plain.coveredS - broken.coveredS).toBeCloseTo(60, 3);
  });

  test('stepDescriptors() tells whole cycles of counters: demand of a day of one run or two is that of a day of many, also by a meter of coarse steps', () => {
    // 0.15 NL/min: a cycle of about 15 h.
    const tight = idealTank({ ...steady, hours: 24 * 12, sampleS: 900, demand: () => 0.15, sends: ['run-time', 'starts'] });
    const coarse = tight.rows.map((row) => (row.channel === 'run-time' ? { ...row, value: 300 * Math.floor(row.value / 300) } : row));
    const cycleS = 3600 * 24 * 12 / tight.starts;
    for (const sent of [tight.rows, coarse]) {
      const told = fold(sent, setupOf({ reportEveryS: 900 })).days.slice(2, 11).flatMap((day) => (day.demand === null ? [] : [day]));
      expect(told.length).toBeGreaterThan(5);
      expect(new Set(told.map((day) => day.starts)).size).toBeGreaterThan(1);
      for (const day of told) expect(Math.abs(day.demand!.value / (60 / cycleS) - 1)).toBeLessThan(0.12);
      expect(Math.abs(told.reduce((sum, day) => sum + 60 / day.demand!.value, 0) / told.length / cycleS - 1)).toBeLessThan(0.05);
    }
  });

  test('stepDescriptors() values counted cycles by the band where the tank is read each quarter of an hour only', () => {
    const world = idealTank({ ...steady, sampleS: 900, sends: ['run-time', 'starts', 'tank-pressure'] });
    const setup = setupOf({ tankLitres: 100, reportEveryS: 900, cutInKPa: 550, cutOutKPa: 700 });
    const day = fold(world.rows, setup).days[1]!;
    expect(day).toMatchObject({ source: 'counters', unit: 'NL/min' });
    // A cycle more or less at the ends of a day of 28 is 4 %.
    expect(Math.abs(day.demand!.value / 3 - 1)).toBeLessThan(0.04);
    expect(Math.abs(day.delivery!.value / 25 - 1)).toBeLessThan(0.08);
    expect(day.demand!.se / day.demand!.value).toBeGreaterThan(0.02);
    // The tank's own span is the band, to what is missed between two readings.
    expect(day.cutInKPa!).toBeLessThan(560);
    expect(day.cutOutKPa!).toBeGreaterThan(685);
    // Behind an air receiver the counted starts are the compressor's own.
    expect(fold(world.rows, setupOf({ tankLitres: 100, reportEveryS: 900, cutInKPa: 550, cutOutKPa: 700, layout: 'air-receiver' })).days[1]!.demand?.value).not.toBe(day.demand!.value);
  });

  test('stepDescriptors() leaves a day that is mostly one run without a delivery', () => {
    const world = idealTank({ hours: 51, demand: (atS) => (atS > 26 * 3600 ? 25 : 3), delivery: () => 25, noiseKPa: 0.3 });
    const [, day] = fold(world.rows, setupOf({ tankLitres: 100 })).days;
    expect(day!.dutyRatio).toBeGreaterThan(0.8);
    expect(day!.delivery).toBeNull();
  });

  test('stepDescriptors() prefers the run state, and goes on with the saw-tooth when it stops', () => {
    const rows = idealTank({ ...steady, hours: 75 }).rows.filter((row) => row.channel !== 'running' || row.atMs < START_MS + 25 * 3_600_000);
    const { days, cycles } = fold(rows, setupOf({ tankLitres: 100 }));
    expect(days.map((day) => day.source)).toEqual(['running', 'tank-pressure', 'tank-pressure']);
    expect(days[2]!.delivery!.value).toBeCloseTo(25, 0);
    // The hand-over cuts one cycle, and no run is told twice.
    const starts = cycles.map((cycle) => cycle.startMs);
    expect(starts).toEqual([...starts].sort((a, b) => a - b));
  });

  test('stepDescriptors() with an air receiver goes by the membrane valve', () => {
    const rows: Row[] = idealTank({ ...steady, hours: 27, sends: ['running'] }).rows.flatMap((row): Row[] => [{ ...row, channel: 'producing' }, { channel: 'running', atMs: row.atMs + 40_000, value: 1 - row.value }]);
    const day = fold(rows, setupOf({ layout: 'air-receiver' })).days[0]!;
    expect(day.dutyRatio).toBeCloseTo(0.12, 2);
  });
});

describe('ends of the scale', () => {
  const always = (value: number): Row[] => Array.from({ length: 27 * 4 }, (_, index) => ({ channel: 'running', atMs: START_MS + index * 900_000, value }));
  test('stepDescriptors() says what it can of a compressor that never stops, or never starts', () => {
    const [on, off] = [fold(always(1), setupOf({ reportEveryS: 900 })).days[0]!, fold(always(0), setupOf({ reportEveryS: 900 })).days[0]!];
    expect([on.dutyRatio, on.runS, on.restS, on.demand, on.delivery, on.longestRunS]).toEqual([1, 86_400, 0, null, null, 86_400]);
    expect([off.dutyRatio, off.runS, off.restS, off.demand, off.delivery, off.longestRestS]).toEqual([0, 0, 86_400, null, null, 86_400]);
  });
});

// A stated error: delivery is the mean over the band, so a raised band looks like less of it, by 4 % at β 0.3 and 17 % at 1.2.
test.each([[0.3, -0.04], [1.2, -0.17]])('a band raised by 100 kPa looks like a change of delivery: β %d, %d', (beta, change) => {
  const at = (shiftKPa: number): number => fold(idealTank({ ...steady, lowKPa: 550 + shiftKPa, highKPa: 700 + shiftKPa, delivery: (_, kPa) => 25 * (1 - (beta * (kPa - 625)) / 726) }).rows, setupOf({ tankLitres: 100 })).days[1]!.delivery!.value;
  expect(at(100) / at(0) - 1).toBeCloseTo(change, 2);
});

describe('entries', () => {
  test('stepDescriptors() leaves a logged test out of demand and delivery, and says so in holdingRatio', () => {
    // A test from 06:00 to 09:00 draws four times as much.
    const rows = idealTank({ ...steady, hours: 27, demand: (atS) => (atS >= 21_600 && atS < 32_400 ? 12 : 3) }).rows;
    const outages = [{ fromMs: START_MS + 6 * 3_600_000, toMs: START_MS + 9 * 3_600_000, kind: 'low-pressure-test' as const }];
    const day = fold(rows, setupOf({ tankLitres: 100 }, 'UTC', outages)).days[0]!;
    expect(day.holdingRatio).toBeCloseTo(21 / 24, 2);
    expect(day.demand!.value).toBeCloseTo(3, 1);
    expect(day.delivery!.value).toBeCloseTo(25, 0);
    expect(day.dutyRatio).toBeCloseTo(0.12, 2);
    expect(day.runS / day.coveredS).toBeGreaterThan(0.15);
  });
});

test('stepDescriptors() does not believe that mains is absent while the compressor starts', () => {
  const rows: Row[] = [{ channel: 'power', atMs: START_MS, value: 1 }, { channel: 'power', atMs: START_MS + 3_600_000, value: 0 }, ...idealTank({ ...steady, hours: 27 }).rows];
  const day = fold(rows.sort((a, b) => a.atMs - b.atMs), setupOf({ tankLitres: 100 })).days[0]!;
  expect(day.holdingRatio).toBeGreaterThan(0.95);
  expect(day.delivery!.value).toBeCloseTo(25, 0);
});

describe('while running', () => {
  test('stepDescriptors() takes medians in runs: pressures after the first minute, nitrogen from the last third', () => {
    const rows = idealTank({ ...steady, hours: 27, sampleS: 20 }).rows.flatMap((row): Row[] => [row]);
    let running = false;
    let sinceMs = 0;
    const more: Row[] = [];
    for (const row of rows) {
      if (row.channel === 'running') {
        if (row.value === 1 && !running) sinceMs = row.atMs;
        running = row.value === 1;
        continue;
      }
      const minute = (row.atMs - sinceMs) / 60_000;
      // Low purity and pressure at first; the head is vented in the rest.
      more.push({ channel: 'nitrogen', atMs: row.atMs, value: running ? (minute < 3 ? 0.93 : 0.985) : 0.5 });
      more.push({ channel: 'discharge-pressure', atMs: row.atMs, value: running ? (minute < 1 ? 100 : 770) : 0 }, { channel: 'feed-pressure', atMs: row.atMs + 7000, value: running ? (minute < 1 ? 90 : 745) : 0 });
    }
    const day = fold([...rows, ...more].sort((a, b) => a.atMs - b.atMs), setupOf({ tankLitres: 100, reportEveryS: 20 })).days[0]!;
    expect(day.nitrogen!.value).toBeCloseTo(0.985, 6);
    expect(day.dischargeKPa!.value).toBe(770);
    expect(day.feedKPa!.value).toBe(745);
    expect(day.elementDropKPa!.value).toBe(25);
    const asOxygen = fold([...rows, ...more.map((row): Row => (row.channel === 'nitrogen' ? { ...row, channel: 'oxygen', value: 1 - row.value } : row))].sort((a, b) => a.atMs - b.atMs), setupOf({ tankLitres: 100, reportEveryS: 20 })).days[0]!;
    expect(asOxygen.nitrogen!.value).toBeCloseTo(0.985, 6);
  });
});

test('where no run state is sent the nitrogen of a day is what the analyser mostly stands at', () => {
  const rows: Row[] = [];
  const fromMs = Date.parse('2026-03-02T00:00:00Z');
  // A duty ratio and reports each ten minutes: one in ten falls into the first minutes of a run.
  for (let index = 0; index <= 27 * 6; index += 1) rows.push({ channel: 'duty', atMs: fromMs + index * 600_000, value: 0.1 }, { channel: 'nitrogen', atMs: fromMs + index * 600_000 + 3000, value: index % 10 === 0 ? 0.94 : 0.9912 });
  expect(fold(rows, setupOf({ reportEveryS: 600 })).days[0]!.nitrogen!.value).toBeCloseTo(0.9912, 6);
});

test('days follow the clock of the site, 23 and 25 hours long where it changes', () => {
  const rows: Row[] = [];
  const fromMs = Date.parse('2026-03-28T00:00:00Z');
  for (let atMs = fromMs; atMs <= fromMs + 3 * 86_400_000; atMs += 900_000) rows.push({ channel: 'running', atMs, value: (atMs / 900_000) % 4 === 0 ? 1 : 0 });
  const { days, quarters } = fold(rows, setupOf({ reportEveryS: 900 }, 'Europe/Lisbon'));
  const changed = days.find((day) => day.day === '2026-03-29')!;
  expect((changed.endMs - changed.startMs) / 3_600_000).toBe(23);
  expect(changed.coveredS).toBe(23 * 3600);
  expect(quarters.filter((row) => row.day.startsWith('2026-03-29')).map((row) => [row.day, (row.endMs - row.startMs) / 3_600_000])).toEqual([['2026-03-29T00', 5], ['2026-03-29T06', 6], ['2026-03-29T12', 6], ['2026-03-29T18', 6]]);
  expect(quarters.filter((row) => row.day.startsWith('2026-03-29')).reduce((sum, row) => sum + row.runS, 0)).toBeCloseTo(changed.runS, 6);
});
