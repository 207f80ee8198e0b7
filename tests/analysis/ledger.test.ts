// Issue: an opened finding is never un-opened, and a person's word holds (design, section 4.3).
import { describe, expect, test } from 'vitest';
import { certainCondition, type Condition } from '../../analysis/causes/condition.ts';
import { closeByPerson, hiddenByOpen, leftOutNow, type LedgerState, noteBelieved, reconcile, saidOpen, startLedger, unfedTimes } from '../../analysis/ledger.ts';
import type { Finding } from '../../shared/finding.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';

const START_MS = Date.UTC(2026, 0, 1);
const leak = (size = 5, probability = 0.9): Condition => ({ ...certainCondition('demand', 'leak', probability, START_MS, 'Demand rose.', false), size });
const tick = (ledger: LedgerState, atMs: number, conditions: readonly Condition[], more: { off?: boolean; judged?: boolean; served?: boolean; hidden?: readonly Condition['slot'][] } = {}): Finding[] =>
  reconcile(ledger, { generator: 'a/b' as GeneratorKey, tickMs: atMs, conditions, hidden: new Set(more.hidden ?? []), judged: () => more.judged ?? true, settingsHash: 'x', servedSinceMs: () => more.served ?? false, off: more.off ?? false, timeZone: 'UTC' });

describe('saidOpen()', () => {
  test('knows when what was told of the supply and of an endless run was over, and that gas runs back', () => {
    const ledger = startLedger();
    const shut = certainCondition('supply', 'valve-left-shut', 0.9, START_MS, 'The piping falls.', false);
    const endless = certainCondition('running', 'runs-without-end', 0.9, START_MS, 'It runs on.', false);
    const back = certainCondition('demand', 'check-valve-leaking', 0.8, START_MS, 'Gas runs back.', false);
    tick(ledger, START_MS, [shut, endless, back]);
    expect(saidOpen(ledger)).toMatchObject({ supplyOpen: true, supplyOverMs: null, endlessOverMs: null, leaksBack: true });
    for (let hour = 1; hour <= 30; hour += 1) tick(ledger, START_MS + hour * HOUR_MS, [], { served: true });
    const { supplyOverMs, endlessOverMs, leaksBack } = saidOpen(ledger);
    expect(leaksBack).toBe(false);
    for (const overMs of [supplyOverMs, endlessOverMs]) expect((overMs! - START_MS) / HOUR_MS).toBeGreaterThan(0);
    expect(saidOpen(startLedger()).endlessOverMs).toBeNull();
  });
});

describe('reconcile()', () => {
  test('what went by the clock says at once that it is so no more, until it is so again or closed', () => {
    const ledger = startLedger();
    const dead = certainCondition('running', 'not-starting', 0.95, START_MS, 'It has not started.', true);
    tick(ledger, START_MS, [dead, leak()]);
    const at = (minutes: number): number => START_MS + minutes * 60_000;
    expect(tick(ledger, at(70), [])).toEqual([]);
    const [over, ...others] = tick(ledger, at(90), []);
    expect(over!.evidence.map((one) => one.says)).toEqual(['It has not started.', 'It is so no more since 1 Jan, 01:10; it is closed when that lasts, or once a visit is recorded.']);
    expect(over!.evidence[1]).toMatchObject({ for: 'not-starting', weight: -3 });
    // A level that wanders about its limit says nothing of the kind, and nothing is said twice.
    expect(others).toEqual([]);
    expect(tick(ledger, at(100), [])).toEqual([]);
    expect(tick(ledger, at(110), [dead])[0]!.evidence).toHaveLength(1);
    // Nor does one that is closed.
    tick(ledger, at(120), []);
    tick(ledger, at(140), []);
    expect(tick(ledger, at(120 + 24 * 60), [])[0]).toMatchObject({ state: 'closed', evidence: [{ says: 'It has not started.' }] });
  });

  test('what went by the clock is over at once when a generator is taken out of service; what is hidden waits', () => {
    const ledger = startLedger();
    tick(ledger, START_MS, [leak(), certainCondition('running', 'not-starting', 0.95, START_MS, 'It has not started.', true)]);
    const closed = tick(ledger, START_MS + HOUR_MS, [], { off: true, hidden: ['demand'] });
    expect(closed.filter((finding) => finding.state === 'closed')).toMatchObject([{ cause: 'not-starting', closedReason: 'superseded' }]);
    expect(ledger.open.demand).toBeDefined();
  });

  test('opens once, revises with history, and closes with a reason', () => {
    const ledger = startLedger();
    const [opened] = tick(ledger, START_MS, [leak()]);
    expect(opened).toMatchObject({ state: 'new', openedAt: '2026-01-01T00:00:00.000Z', cause: 'leak', history: [{ cause: 'leak', probability: 0.9 }] });
    expect(tick(ledger, START_MS + 600_000, [leak()])).toEqual([]);
    const [revised] = tick(ledger, START_MS + HOUR_MS, [leak(5, 0.7)]);
    expect(revised!.id).toBe(opened!.id);
    expect(revised!.history).toHaveLength(2);
    expect(tick(ledger, START_MS + 10 * DAY_MS, [])).toEqual([]);
    expect(tick(ledger, START_MS + 15 * DAY_MS, [])).toEqual([]);
    const [closed] = tick(ledger, START_MS + 16 * DAY_MS, []);
    expect(closed).toMatchObject({ id: opened!.id, state: 'closed', closedReason: 'improved' });
  });

  test('what a limit opened learns its onset from what began before, and never from what began after', () => {
    const limit: Condition = { ...certainCondition('delivery', 'compressor-side', 0.6, null, 'It delivers half of its rating.', false), size: 2 };
    const since = (day: number): Condition => ({ ...certainCondition('delivery', 'membrane-decline', 0.6, START_MS + day * DAY_MS, 'Nitrogen fell.', false), size: 2 });
    const onsetAfter = (day: number): string | null => {
      const ledger = startLedger();
      tick(ledger, START_MS, [limit]);
      return tick(ledger, START_MS + 30 * DAY_MS, [since(day)])[0]!.onset.likely;
    };
    expect(onsetAfter(-3)).toBe('2025-12-29T00:00:00.000Z');
    expect(onsetAfter(20)).toBeNull();
  });

  test('what an open finding hides stays hidden while nothing says so, and it is held against the weeks before it', () => {
    const week = (startMs: number) => ({ startMs, demand: 0, delivery: 0, bandKPa: 100, startKPa: 500, stopKPa: 600, shortRunS: 900 });
    const short = (weekMs: number): Condition => ({ ...certainCondition('running', 'stops-short', 0.9, START_MS, 'Runs are cut short.', true), hides: ['demand', 'delivery'], against: [week(weekMs)] });
    const ledger = startLedger();
    expect(saidOpen(ledger).cutShort).toBeNull();
    tick(ledger, START_MS, [short(1)]);
    tick(ledger, START_MS + HOUR_MS, [short(2)]);
    tick(ledger, START_MS + 2 * HOUR_MS, []);
    expect(hiddenByOpen(ledger)).toEqual(['demand', 'delivery']);
    expect(saidOpen(ledger).cutShort).toEqual([week(1)]);
    tick(ledger, START_MS + 5 * DAY_MS, []);
    expect(hiddenByOpen(ledger)).toEqual([]);
    expect(saidOpen(ledger).cutShort).toBeNull();
    // Found by days, or by an earlier build.
    tick(ledger, START_MS + 6 * DAY_MS, [certainCondition('running', 'stops-short', 0.9, START_MS, 'Runs are shorter.', true)]);
    expect(saidOpen(ledger).cutShort).toEqual([]);
  });

  test('runs that are cut short now and then are one finding, also after a service that was for something else', () => {
    const short = certainCondition('running', 'stops-short', 0.9, START_MS, 'A run stopped short.', true);
    const openings = (gapHours: number, served: boolean): number => {
      const ledger = startLedger();
      const ids = new Set<string>();
      for (let hour = 0; hour < 20 * 24; hour += 1) for (const finding of tick(ledger, START_MS + hour * HOUR_MS, hour % gapHours === 0 ? [short] : [], { served })) ids.add(finding.id);
      return ids.size;
    };
    expect(openings(72, false)).toBe(1);
    expect(openings(18, true)).toBe(1);
    expect(openings(30, true)).toBeGreaterThan(1);
  });

  test('of the same two causes of a run the one that was told stays, unless the other is surer or holds for three days', () => {
    const causes = (first: 'stops-short' | 'set-point-changed', probability: number): Condition => {
      const other = first === 'stops-short' ? 'set-point-changed' : 'stops-short';
      return { ...certainCondition('running', first, probability, START_MS, 'Runs are short.', true), causes: [{ cause: first, probability }, { cause: other, probability: 1 - probability }] };
    };
    const namedAfter = (hours: number, conditionAt: (hour: number) => Condition): string => {
      const ledger = startLedger();
      for (let hour = 0; hour <= hours; hour += 6) tick(ledger, START_MS + hour * HOUR_MS, [hour === 0 ? causes('stops-short', 0.85) : conditionAt(hour)]);
      return ledger.open.running!.finding.cause;
    };
    expect(namedAfter(240, (hour) => (hour % 24 === 0 ? causes('stops-short', 0.85) : causes('set-point-changed', 0.6)))).toBe('stops-short');
    expect(namedAfter(66, () => causes('set-point-changed', 0.6))).toBe('stops-short');
    expect(namedAfter(84, () => causes('set-point-changed', 0.6))).toBe('set-point-changed');
    expect(namedAfter(6, () => causes('set-point-changed', 0.9))).toBe('set-point-changed');
    expect(namedAfter(6, () => certainCondition('running', 'not-starting', 0.6, START_MS, 'It has not started.', true))).toBe('not-starting');
  });

  test('what gets less after a service is told as it stood before, and what grows is told anew', () => {
    const rose = (percent: number): Condition => ({ ...certainCondition('demand', 'leak', 0.9, START_MS, `Demand rose by ${percent} %.`, false), size: percent / 5 });
    const says = (served: boolean, percent: number, more: Partial<Condition> = {}): string => {
      const ledger = startLedger();
      tick(ledger, START_MS, [rose(200)]);
      tick(ledger, START_MS + DAY_MS, [{ ...rose(percent), ...more }], { served });
      return ledger.open.demand!.finding.evidence[0]!.says;
    };
    expect(says(true, 20)).toBe('Demand rose by 200 %.');
    expect(says(false, 20)).toBe('Demand rose by 20 %.');
    expect(says(true, 240)).toBe('Demand rose by 240 %.');
    expect(says(true, 20, { ofVisit: true })).toBe('Demand rose by 20 %.');
    // Another cause is another matter, and so is what wants somebody now.
    expect(says(true, 20, { cause: 'valve-left-shut' })).toBe('Demand rose by 20 %.');
    expect(says(true, 20, { urgent: true })).toBe('Demand rose by 20 %.');
  });

  test('the time of a tank gauge that lied, and of a supply that fed nothing, is left out once nothing is believed of it', () => {
    const ledger = startLedger();
    const lies: Condition = { ...certainCondition('sensor', 'sensor-fault', 0.93, START_MS - DAY_MS, 'No tank empties so.', false), ofTank: true };
    const believe = (days: number, ...conditions: Condition[]): void => {
      noteBelieved(ledger, conditions, START_MS + days * DAY_MS);
      tick(ledger, START_MS + days * DAY_MS, conditions);
    };
    believe(0, lies, leak());
    believe(1, lies, leak());
    expect(leftOutNow(ledger)).toEqual([]);
    // It is over: nothing of it is believed any more. So it stays, however long the finding waits to be closed.
    const time = { of: 'tank', fromMs: START_MS - DAY_MS, toMs: START_MS + 5 * DAY_MS };
    for (let hour = 0; hour <= 25; hour += 1) {
      believe(5 + hour / 24, leak());
      expect(leftOutNow(ledger)).toEqual([time]);
    }
    expect(ledger.open.sensor).toBeUndefined();
    // A leak is what it is.
    believe(40);
    believe(60);
    expect(ledger.open).toEqual({});
    expect(leftOutNow(ledger)).toEqual([time]);
    const shut = certainCondition('supply', 'valve-left-shut', 0.85, START_MS + 70 * DAY_MS, 'Hardly anything is drawn.', true);
    believe(70, shut);
    believe(71, shut);
    expect(unfedTimes(ledger)).toEqual([{ of: 'supply', fromMs: START_MS + 70 * DAY_MS, toMs: Infinity }]);
    // Closed by a person, it is left out all the same.
    closeByPerson(ledger, ledger.open.supply!.finding.id, START_MS + 72 * DAY_MS);
    expect(leftOutNow(ledger)[1]).toEqual({ of: 'supply', fromMs: START_MS + 70 * DAY_MS, toMs: START_MS + 72 * DAY_MS });
  });

  test('so is the time of a compressor that didn\'t stop, and not of one that was cut short', () => {
    const ledger = startLedger();
    for (const [day, cause] of [[0, 'runs-without-end'], [10, 'stops-short']] as const) {
      const said = certainCondition('running', cause, 0.9, START_MS + day * DAY_MS, 'It runs so.', true);
      tick(ledger, START_MS + day * DAY_MS, [said]);
      noteBelieved(ledger, [said], START_MS + day * DAY_MS);
      noteBelieved(ledger, [], START_MS + (day + 2) * DAY_MS);
      for (let hour = 0; hour < 30; hour += 1) tick(ledger, START_MS + (day + 2) * DAY_MS + hour * HOUR_MS, []);
    }
    expect(leftOutNow(ledger)).toEqual([{ of: 'run', fromMs: START_MS, toMs: START_MS + 2 * DAY_MS }]);
    expect(unfedTimes(ledger)).toEqual([]);
  });

  test('of a finding that turns into another only the time is left out in which it said so', () => {
    const ledger = startLedger();
    const sensor = (ofTank: boolean): Condition => ({ ...certainCondition('sensor', 'sensor-fault', 0.93, START_MS, 'It stands still.', false), ...(ofTank ? { ofTank } : { lying: ['nitrogen'] as const }) });
    for (let day = 0; day < 40; day += 1) {
      noteBelieved(ledger, [sensor(day < 2)], START_MS + day * DAY_MS);
      tick(ledger, START_MS + day * DAY_MS, [sensor(day < 2)]);
    }
    expect(leftOutNow(ledger)).toEqual([{ of: 'tank', fromMs: START_MS, toMs: START_MS + 2 * DAY_MS }]);
    const moved = (probability: number): Condition => certainCondition('set-point', 'sensor-fault', probability, START_MS + 60 * DAY_MS, 'Starts and stops moved.', false);
    for (const [day, probability] of [[60, 0.6], [90, 0.95]] as const) {
      tick(ledger, START_MS + day * DAY_MS, [moved(probability)]);
      noteBelieved(ledger, [moved(probability)], START_MS + day * DAY_MS);
      noteBelieved(ledger, [], START_MS + (day + 1) * DAY_MS);
      expect(leftOutNow(ledger)).toHaveLength(day < 90 ? 1 : 2);
    }
    // A supply of which a leak is said drew what it drew.
    noteBelieved(ledger, [], START_MS);
    tick(ledger, START_MS + 41 * DAY_MS, [certainCondition('supply', 'leak', 0.7, START_MS, 'The piping falls on.', true)]);
    noteBelieved(ledger, [certainCondition('supply', 'leak', 0.7, START_MS, 'The piping falls on.', true)], START_MS + 42 * DAY_MS);
    expect(unfedTimes(ledger)).toEqual([]);
  });

  test('a condition that comes back before it was gone for six days is the same finding', () => {
    const ledger = startLedger();
    const [opened] = tick(ledger, START_MS, [leak()]);
    for (let day = 1; day < 40; day += 1) for (const finding of tick(ledger, START_MS + day * DAY_MS, day % 6 === 0 ? [leak()] : [])) expect(finding).toMatchObject({ id: opened!.id, state: 'new' });
  });

  test('a gauge that drifts about its limit is one finding; one that was frozen and moves is over after a day', () => {
    const openings = (aside: boolean): number => {
      const ledger = startLedger();
      const drift: Condition = { ...certainCondition('sensor', 'sensor-fault', 0.95, START_MS, 'Its zero has drifted.', false), aside };
      const ids = new Set<string>();
      for (let day = 0; day < 40; day += 1) for (const finding of tick(ledger, START_MS + day * DAY_MS, day % 5 === 0 ? [drift] : [])) ids.add(finding.id);
      return ids.size;
    };
    expect(openings(true)).toBe(1);
    expect(openings(false)).toBe(8);
  });

  test('is verifying after a visit until there is data enough, and comes back if it did not help', () => {
    const ledger = startLedger();
    tick(ledger, START_MS, [leak()]);
    expect(tick(ledger, START_MS + DAY_MS, [], { judged: false, served: true })[0]).toMatchObject({ state: 'verifying' });
    expect(tick(ledger, START_MS + 3 * DAY_MS, [leak()], { served: true })[0]).toMatchObject({ state: 'new' });
  });

  test('keeps a finding that another fault hides, and supersedes a fresh one that a broken gauge explains', () => {
    const ledger = startLedger();
    tick(ledger, START_MS, [leak()]);
    const supply = certainCondition('supply', 'valve-left-shut', 0.9, START_MS, 'The piping sags.', true);
    expect(tick(ledger, START_MS + HOUR_MS, [supply], { hidden: ['demand'] }).some((finding) => finding.state === 'closed')).toBe(false);
    const sensor = certainCondition('sensor', 'sensor-fault', 0.95, START_MS, 'The gauge stands still.', false);
    expect(tick(ledger, START_MS + 2 * HOUR_MS, [sensor], { hidden: ['demand', 'supply'] }).find((finding) => finding.cause === 'leak')).toMatchObject({ state: 'closed', closedReason: 'superseded' });
  });

  test('what a broken gauge once superseded it explains until its finding ends, though it does so at some moments only', () => {
    const ledger = startLedger();
    tick(ledger, START_MS, [leak()]);
    const sensor = certainCondition('sensor', 'sensor-fault', 0.95, START_MS, 'The gauge reads a tenth.', false);
    tick(ledger, START_MS + HOUR_MS, [sensor], { hidden: ['demand'] });
    expect(hiddenByOpen(ledger)).toEqual(['demand']);
    tick(ledger, START_MS + 2 * HOUR_MS, [sensor]);
    expect(hiddenByOpen(ledger)).toEqual(['demand']);
    for (const days of [1, 2, 3]) tick(ledger, START_MS + days * DAY_MS, []);
    expect(hiddenByOpen(ledger)).toEqual([]);
  });

  test('a broken gauge supersedes only what it hides: a run without end goes on beside it, though it pauses', () => {
    const ledger = startLedger();
    const sensor = certainCondition('sensor', 'sensor-fault', 0.95, START_MS, 'The gauge stands still.', false);
    const endless = certainCondition('running', 'runs-without-end', 0.9, START_MS, 'It runs.', true);
    const [opened] = tick(ledger, START_MS, [endless]);
    tick(ledger, START_MS + HOUR_MS, [sensor], { hidden: ['demand'] });
    expect(tick(ledger, START_MS + 2 * HOUR_MS, [sensor, endless], { hidden: ['demand'] })).toEqual([]);
    expect(ledger.open.running!.finding.id).toBe(opened!.id);
  });

  test('a finding closed by a person stays away until its condition has grown by half', () => {
    const ledger = startLedger();
    const [opened] = tick(ledger, START_MS, [leak(4)]);
    expect(closeByPerson(ledger, opened!.id, START_MS + DAY_MS)).toBe(true);
    expect(tick(ledger, START_MS + HOUR_MS, [leak(5)])).toEqual([]);
    expect(tick(ledger, START_MS + 2 * HOUR_MS, [leak(6.1)])[0]).toMatchObject({ state: 'new' });
  });

  test('two causes at once are two findings that name each other', () => {
    const ledger = startLedger();
    const loading: Condition = { ...leak(), slot: 'delivery', cause: 'element-loading', causes: [{ cause: 'element-loading', probability: 1 }] };
    const findings = tick(ledger, START_MS, [leak(), loading]);
    expect(findings).toHaveLength(2);
    expect(findings[0]!.id).not.toBe(findings[1]!.id);
    for (const finding of findings) expect(finding.alongside).toEqual(findings.filter((other) => other !== finding).map((other) => other.id));
  });
});

test('saidOpen() knows whether more was drawn, and when that was over', () => {
  const ledger = startLedger();
  tick(ledger, START_MS, [leak()]);
  expect(saidOpen(ledger)).toMatchObject({ demandOpen: true, demandOverMs: null });
  tick(ledger, START_MS + 10 * DAY_MS, [], { served: true });
  tick(ledger, START_MS + 12 * DAY_MS, [], { served: true });
  expect(saidOpen(ledger)).toMatchObject({ demandOpen: false, demandOverMs: START_MS + 12 * DAY_MS });
});

test('saidOpen() knows when a running finding said last that nothing starts, whatever it was before or became since', () => {
  const ledger = startLedger();
  const running = (cause: 'stops-short' | 'not-starting' | 'set-point-changed'): Condition => certainCondition('running', cause, 0.9, START_MS, 'Said.', true);
  expect(saidOpen(ledger).missedStartMs).toBeNull();
  tick(ledger, START_MS, [running('stops-short')]);
  expect(saidOpen(ledger).missedStartMs).toBeNull();
  tick(ledger, START_MS + 2 * DAY_MS, [running('not-starting')]);
  expect(saidOpen(ledger).missedStartMs).toBe(START_MS + 2 * DAY_MS);
  tick(ledger, START_MS + 3 * DAY_MS, [running('set-point-changed')]);
  expect(saidOpen(ledger).missedStartMs).toBe(START_MS + 2 * DAY_MS);
});
