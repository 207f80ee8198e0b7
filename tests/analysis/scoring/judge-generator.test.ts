// Issue: the scoring rules of the design, section 5, on truths and findings made by hand.
import { describe, expect, test } from 'vitest';
import { judgeGenerator } from '../../../analysis/scoring/judge-generator.ts';
import type { StatedChange } from '../../../analysis/scoring/stated-changes.ts';
import type { TrueFault, TrueUpset } from '../../../analysis/scoring/truth.ts';
import { type BaseChannel } from '../../../shared/channels.ts';
import { seesOf } from '../../../shared/distinguish.ts';
import type { Finding } from '../../../shared/finding.ts';
import { at, fault, finding, START_MS, upset } from './hand-made.ts';

const FULL: readonly BaseChannel[] = ['running', 'tank-pressure', 'discharge-pressure', 'feed-pressure', 'system-pressure', 'nitrogen'];
const MIDDLE: readonly BaseChannel[] = ['running', 'tank-pressure', 'nitrogen'];
const DUTY: readonly BaseChannel[] = ['duty'];

function judge(faults: TrueFault[], findings: Finding[], more: { channels?: readonly BaseChannel[]; upsets?: TrueUpset[]; untilDay?: number; stated?: readonly StatedChange[] } = {}) {
  return judgeGenerator({ faults, upsets: more.upsets ?? [], sees: seesOf(new Set(more.channels ?? FULL)), untilMs: START_MS + (more.untilDay ?? 100) * 86_400_000, stated: more.stated ?? [] }, findings);
}
const outcomes = (judged: ReturnType<typeof judge>) => judged.findings.map((one) => one.outcome);

describe('judgeGenerator() on one fault', () => {
  test('takes the cause itself as found and right, with its delay from the onset', () => {
    const judged = judge([fault('leak', 20)], [finding('a', 23, 'leak')]);
    expect(judged.faults[0]).toMatchObject({ outcome: 'found', fit: 'right', delayH: 72, finding: 'a' });
    expect(outcomes(judged)).toEqual(['right']);
  });

  test('takes another cause of the family as found, not as named', () => {
    expect(judge([fault('drain-stuck-open', 20)], [finding('a', 22, 'compressor-side')]).faults[0]).toMatchObject({ outcome: 'found', fit: 'family' });
  });

  test('takes the wrong family after the onset as false, and the fault as missed', () => {
    const judged = judge([fault('compressor-side', 20)], [finding('a', 22, 'leak')]);
    expect(outcomes(judged)).toEqual(['false']);
    expect(judged.findings[0]).toMatchObject({ duringFault: true });
    expect(judged.faults[0]).toMatchObject({ outcome: 'missed', fit: null, delayH: null });
  });

  test('takes what was said before the onset as false, even if it says the cause that comes', () => {
    const judged = judge([fault('leak', 20)], [finding('a', 19, 'leak')]);
    expect(outcomes(judged)).toEqual(['false']);
    expect(judged.findings[0]).toMatchObject({ duringFault: false });
    expect(judged.faults[0]!.outcome).toBe('missed');
  });

  test('keeps a finding false when it was superseded', () => {
    expect(outcomes(judge([], [finding('a', 10, 'leak', { state: 'closed', closedAt: at(11), closedReason: 'superseded' })]))).toEqual(['false']);
  });

  test('calls a second right finding of the same fault right, and counts the fault once by its first', () => {
    const judged = judge([fault('drain-stuck-open', 20)], [finding('b', 40, 'drain-stuck-open'), finding('a', 22, 'drain-stuck-open', { state: 'closed', closedAt: at(30) })]);
    expect(outcomes(judged)).toEqual(['right', 'right']);
    expect(judged.faults[0]).toMatchObject({ finding: 'a', delayH: 48 });
  });
});

describe('judgeGenerator() reads the cause 24 h after the opening', () => {
  test('takes what was said after a day, and tells what was said at opening and at the end', () => {
    const said = finding('a', 21, 'leak', { later: [{ at: at(21, 20), cause: 'compressor-side', probability: 0.8 }, { at: at(25), cause: 'membrane-decline', probability: 0.6 }] });
    const [judged] = judge([fault('compressor-side', 20)], [said]).findings;
    expect(judged).toMatchObject({ outcome: 'right', fitAtOpening: 'wrong', fitAtEnd: 'family', said: { atOpening: { cause: 'leak' }, judged: { cause: 'compressor-side', probability: 0.8 }, atEnd: { cause: 'membrane-decline' } } });
  });

  test('takes what was said at the closing if that is earlier', () => {
    const said = finding('a', 21, 'leak', { closedAt: at(21, 6), state: 'closed', closedReason: 'not-confirmed', later: [{ at: at(21, 20), cause: 'compressor-side', probability: 0.8 }] });
    expect(outcomes(judge([fault('leak', 20)], [said]))).toEqual(['right']);
  });
});

describe('judgeGenerator() and what channels can tell', () => {
  const group = ['element-loading', 'drain-stuck-open', 'drain-stuck-closed', 'compressor-side', 'bleed-left-open'] as const;

  test('takes undetermined as right if it lists the truth and only what the channels leave together', () => {
    expect(judge([fault('drain-stuck-open', 20)], [finding('a', 22, 'undetermined', { among: group })], { channels: MIDDLE }).faults[0]).toMatchObject({ outcome: 'found', fit: 'right' });
  });

  test('takes a group as right across families: a bleed that can not be told from less delivery', () => {
    expect(judge([fault('bleed-left-open', 20)], [finding('a', 22, 'undetermined', { among: group })], { channels: MIDDLE }).faults[0]).toMatchObject({ outcome: 'found', fit: 'right' });
  });

  test('takes the same list as false where the channels could have told', () => {
    expect(outcomes(judge([fault('drain-stuck-open', 20)], [finding('a', 22, 'undetermined', { among: group })]))).toEqual(['false']);
  });

  test('takes a list without the truth, and one that is too wide, as false', () => {
    expect(outcomes(judge([fault('membrane-decline', 20)], [finding('a', 22, 'undetermined', { among: group })], { channels: MIDDLE }))).toEqual(['false']);
    expect(outcomes(judge([fault('drain-stuck-open', 20)], [finding('a', 22, 'undetermined', { among: [...group, 'leak'] })], { channels: MIDDLE }))).toEqual(['false']);
  });

  test('takes the widest group as right where the duty ratio alone is sent', () => {
    const wide = ['leak', 'bleed-left-open', 'check-valve-leaking', 'element-loading', 'compressor-side', 'membrane-decline'] as const;
    expect(judge([fault('leak', 20)], [finding('a', 22, 'undetermined', { among: wide })], { channels: DUTY }).faults[0]).toMatchObject({ outcome: 'found', fit: 'right' });
  });

  test('reads the group from the line of history that is judged, not from the end', () => {
    const said = finding('a', 22, 'undetermined', { among: group, later: [{ at: at(26), cause: 'leak', probability: 0.9 }] });
    expect(judge([fault('drain-stuck-open', 20)], [{ ...said, among: null }], { channels: MIDDLE }).findings[0]).toMatchObject({ outcome: 'right', fitAtEnd: 'wrong' });
  });
});

describe('judgeGenerator() and upsets', () => {
  const snap = upset('cold-snap', 30, 34, ['leak']);

  test('neither credits nor blames what an upset may be taken for, until a day after it was judged', () => {
    expect(outcomes(judge([], [finding('a', 31, 'leak')], { upsets: [snap] }))).toEqual(['excused']);
    expect(outcomes(judge([], [finding('a', 35, 'leak')], { upsets: [snap] }))).toEqual(['excused']);
    expect(outcomes(judge([], [finding('a', 36, 'leak')], { upsets: [snap] }))).toEqual(['false']);
    expect(outcomes(judge([], [finding('a', 31, 'undetermined', { among: ['leak', 'compressor-side'] })], { upsets: [snap], channels: DUTY }))).toEqual(['excused']);
  });

  test('stops excusing what goes by the clock two hours after its end', () => {
    const locked = [upset('lock-out', 30, 30.1, ['not-starting'])];
    expect(outcomes(judge([], [finding('a', 30.15, 'not-starting')], { upsets: locked }))).toEqual(['excused']);
    expect(outcomes(judge([], [finding('a', 30.5, 'not-starting')], { upsets: locked }))).toEqual(['false']);
  });

  test('blames what it may not be taken for', () => {
    expect(outcomes(judge([], [finding('a', 31, 'compressor-side')], { upsets: [snap] }))).toEqual(['false']);
  });

  test('credits what names a fault before it excuses, and excuses before it credits another of the family', () => {
    expect(outcomes(judge([fault('leak', 20)], [finding('a', 31, 'leak')], { upsets: [snap] }))).toEqual(['right']);
    expect(judge([fault('check-valve-leaking', 20)], [finding('a', 31, 'leak')], { upsets: [snap] })).toMatchObject({ faults: [{ outcome: 'missed' }], findings: [{ outcome: 'excused', fault: null }] });
  });

  test('takes silence for lost mains as half right, and for no other fault of instruments', () => {
    expect(judge([fault('no-power', 20)], [finding('a', 20.5, 'data-gap')]).faults[0]).toMatchObject({ outcome: 'found', fit: 'family' });
    expect(outcomes(judge([fault('set-point-changed', 20)], [finding('a', 20.5, 'data-gap')]))).toEqual(['false']);
    expect(outcomes(judge([fault('set-point-changed', 20)], [finding('a', 20.5, 'sensor-fault')]))).toEqual(['false']);
  });
});

describe('judgeGenerator() and what came by itself', () => {
  const stated = (delivery: number | null) => [{ at: at(30), demand: 0.1, delivery, demandScatter: 0.05, deliveryScatter: 0.02, cycles: null }];
  const loading = (more: Partial<TrueFault> = {}): TrueFault => fault('element-loading', 0, { knowableAt: at(50), byItself: true, deliveryLoss: 0.06, shape: 'ramp', ...more });

  test('takes it as found from when loading began, and counts its delay from when it could be known', () => {
    expect(judge([loading()], [finding('a', 52, 'element-loading')]).faults[0]).toMatchObject({ outcome: 'found', delayH: 48 });
    expect(judge([loading()], [finding('a', 40, 'element-loading')]).faults[0]).toMatchObject({ outcome: 'found', delayH: 0 });
  });

  test('is no time of something the matter until it can be known', () => {
    const wrong = [finding('a', 40, 'leak'), finding('b', 60, 'leak')];
    expect(judge([loading()], wrong).findings.map((one) => one.duringFault)).toEqual([false, true]);
  });

  test('counts as missed only once it is known, and only where it can show', () => {
    expect(judge([loading()], []).faults[0]!.outcome).toBe('missed');
    expect(judge([loading({ knowableAt: at(97) })], []).faults[0]!.outcome).toBe('young');
    // Without the pressures before and after it shows in delivery alone: a loss of 6 % is 0.062.
    const without = (smallest: number | null) => judge([loading()], [], { channels: MIDDLE, stated: stated(smallest) }).faults[0]!.outcome;
    expect([without(0.05), without(0.07), without(null)]).toEqual(['missed', 'unknowable', 'unknowable']);
    expect(judge([loading()], [], { stated: stated(0.07) }).faults[0]!.outcome).toBe('missed');
    // A compressor shows in delivery alone, whatever is sent.
    expect(judge([loading({ cause: 'compressor-side' })], [], { stated: stated(0.07) }).faults[0]!.outcome).toBe('unknowable');
  });

  test('does not ask for a shut drain whose bowl never filled', () => {
    expect(judge([fault('drain-stuck-closed', 20, { knowableAt: null })], []).faults[0]!.outcome).toBe('unknowable');
    expect(judge([fault('drain-stuck-closed', 20, { knowableAt: at(40) })], [finding('a', 42, 'drain-stuck-closed')]).faults[0]).toMatchObject({ outcome: 'found', delayH: 48 });
  });

  test('does not ask for drawn loading before the elements are due, and takes it where it is found earlier', () => {
    const drawn = fault('element-loading', 20, { knowableAt: null });
    expect(judge([drawn], []).faults[0]!.outcome).toBe('unknowable');
    expect(judge([drawn], [finding('a', 30, 'element-loading')]).faults[0]).toMatchObject({ outcome: 'found', delayH: 240 });
  });
});

describe('judgeGenerator() and time', () => {
  test('counts faults of the running from when they could be known', () => {
    expect(judge([fault('not-starting', 20, { knowableAt: at(20, 10) })], [{ ...finding('a', 20, 'not-starting'), openedAt: at(20, 11) }]).faults[0]).toMatchObject({ outcome: 'found', delayH: 1 });
    expect(judge([fault('not-starting', 20, { knowableAt: null, end: at(20, 2) })], []).faults[0]!.outcome).toBe('unknowable');
    expect(judge([fault('leak', 20, { knowableAt: null })], []).faults[0]!.outcome).toBe('missed');
  });

  test('calls a fault young that was there for less than a week and goes on, and missed if it was mended', () => {
    expect(judge([fault('leak', 95)], []).faults[0]!.outcome).toBe('young');
    expect(judge([fault('leak', 90, { end: at(95) })], []).faults[0]!.outcome).toBe('missed');
    expect(judge([fault('leak', 92)], []).faults[0]!.outcome).toBe('missed');
  });

  test('calls a finding late that opens within a day after the mending, and false after that', () => {
    const mended = fault('leak', 20, { end: at(30) });
    expect(judge([mended], [finding('a', 30.5, 'leak')])).toMatchObject({ faults: [{ outcome: 'missed' }], findings: [{ outcome: 'late' }] });
    expect(outcomes(judge([mended], [finding('a', 32, 'leak')]))).toEqual(['false']);
  });

  test('sets a fault apart that begins behind an open finding of its family', () => {
    const judged = judge([fault('leak', 20), fault('check-valve-leaking', 40)], [finding('a', 22, 'leak')]);
    expect(judged.faults.map((one) => one.outcome)).toEqual(['found', 'behind-another']);
    expect(judge([fault('leak', 20), fault('compressor-side', 40)], [finding('a', 22, 'leak')]).faults.map((one) => one.outcome)).toEqual(['found', 'missed']);
  });

  test('gives a finding to the fault that it names before one of its family', () => {
    const judged = judge([fault('leak', 20), fault('check-valve-leaking', 40)], [finding('a', 42, 'leak'), finding('b', 43, 'check-valve-leaking')]);
    expect(judged.faults.map((one) => [one.outcome, one.finding])).toEqual([['found', 'a'], ['found', 'b']]);
  });
});
