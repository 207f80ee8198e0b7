// Issue: one thing that is wrong is one finding (design, section 6).
import { describe, expect, test } from 'vitest';
import { certainCondition, mixedCondition, type Slot, SPOILT_BY_ENDLESS } from '../../../analysis/causes/condition.ts';
import { hiddenSlots } from '../../../analysis/causes/what-hides.ts';

const unreached = mixedCondition('demand', [['leak', 0.42], ['drain-stuck-open', 0.25], ['compressor-side', 0.25], ['runs-without-end', 0.08]], 0, []);
const leak = certainCondition('demand', 'leak', 0.8, 0, 'Demand rose.', false);

describe('hiddenSlots()', () => {
  const hides = (conditions: Parameters<typeof hiddenSlots>[0], ...open: Slot[]): Slot[] => [...hiddenSlots(conditions, new Set(open))];

  test('a stop that is not reached is no leak where delivery was lost before, and is told where nothing was', () => {
    expect(hides([unreached], 'delivery')).toContain('demand');
    expect(hides([unreached])).not.toContain('demand');
    // What the days show is told beside it, and what is open already goes on.
    expect(hides([leak], 'delivery')).not.toContain('demand');
    expect(hides([unreached], 'delivery', 'demand')).not.toContain('demand');
  });

  test('a gauge that lies hides what is read from it', () => {
    const lying = certainCondition('sensor', 'sensor-fault', 0.93, 0, 'No elements hold back so much.', false);
    const byLeak = hides([leak]);
    expect(hides([lying, leak])).toEqual(expect.arrayContaining(['demand', 'delivery', 'duty', 'supply', 'set-point']));
    expect(hides([{ ...lying, lying: ['piping'] }, leak])).toEqual(['supply', ...byLeak]);
    // What it seemed to say of delivery is over, unless the tank says it.
    expect(hides([{ ...lying, lying: ['elements'] }, leak])).toEqual(['delivery', ...byLeak]);
    expect(hides([{ ...lying, lying: ['elements'] }, certainCondition('delivery', 'compressor-side', 0.6, 0, 'Less is made.', false)])).not.toContain('delivery');
    // A motor's gauge shows neither.
    expect(hides([{ ...lying, lying: [] }, leak])).toEqual(byLeak);
  });

  test('what shows in demand of a supply that was told of is no news while that finding is open', () => {
    expect(hides([certainCondition('demand', 'supply-bypassed', 0.6, 0, 'Demand fell.', false)], 'supply')).toContain('demand');
    expect(hides([certainCondition('demand', 'supply-bypassed', 0.6, 0, 'Demand fell.', false)])).not.toContain('demand');
    expect(hides([leak], 'supply')).not.toContain('demand');
  });

  test('without power nothing else of the running is news', () => {
    expect(hides([certainCondition('power', 'no-power', 0.97, 0, 'No mains.', true)])).toEqual(expect.arrayContaining(['running', 'supply', 'data']));
  });

  test('of a tank that is held above its stop nothing is told but that; of a run that may end, all else is', () => {
    const endless = (probability: number, letsOff = false) => ({ ...mixedCondition('running', [['runs-without-end', probability], ['sensor-fault', 1 - probability]], 0, []), ...(letsOff ? { letsOff, hides: SPOILT_BY_ENDLESS } : {}) });
    expect(hides([endless(0.95, true), leak])).toEqual(expect.arrayContaining(['demand', 'delivery', 'duty']));
    // Whether the piping is fed is another matter, and a motor that idles behind a full receiver lets nothing off.
    expect(hides([endless(0.95, true), leak])).not.toContain('supply');
    expect(hides([endless(0.9), leak])).not.toContain('demand');
    const delivery = (cause: 'element-loading' | 'compressor-side') => certainCondition('delivery', cause, 0.8, 0, 'Less is made, or the drop rose.', false);
    expect(hides([endless(0.95, true), delivery('compressor-side')])).toContain('delivery');
    expect(hides([endless(0.95, true), delivery('element-loading')])).not.toContain('delivery');
    expect(hides([endless(0.7), leak])).not.toContain('demand');
    expect(hides([endless(0.7), leak])).toContain('running');
    // Where less is made already a run to the usual stop may take all day.
    expect(hides([endless(0.9)], 'delivery')).toContain('running');
    expect(hides([endless(0.9)], 'delivery', 'running')).not.toContain('running');
    expect(hides([endless(0.95, true)], 'delivery')).not.toContain('running');
    // Told before the days that it spoils say so, it stays what it is; the drop over the elements is read in any run.
    const told = { ...endless(0.7), hides: SPOILT_BY_ENDLESS };
    expect(hides([told, leak], 'running')).toContain('demand');
    expect(hides([told, leak], 'running')).not.toContain('running');
    expect(hides([told, delivery('compressor-side')], 'running')).toContain('delivery');
    expect(hides([told, delivery('element-loading')], 'running')).not.toContain('delivery');
  });
});
