// Issue: what is made doesn't jump from day to day by which ends of a band rare reports happen to show (design, section 6).
import { describe, expect, test } from 'vitest';
import { filledBand, rememberEdge, setBand } from '../../../analysis/cycles/normal.ts';
import { type DescriptorState, startDescriptors } from '../../../analysis/cycles/state.ts';
import { setupOf, START_MS } from './ideal-tank.ts';

const sparse = setupOf({ cutInKPa: 600, cutOutKPa: 700, reportEveryS: 600 });

/** Starts and stops as a gauge shows them that is read each ten minutes. */
function seen(state: DescriptorState, startKPa: number, stopKPa: number, cycles = 16): ReturnType<typeof filledBand> {
  for (let cycle = 0; cycle < cycles; cycle += 1) {
    rememberEdge(state, sparse, 'start', startKPa);
    rememberEdge(state, sparse, 'stop', stopKPa);
  }
  return filledBand(state, sparse);
}

describe('filledBand()', () => {
  test('a band that was the registered one stays it while its ends are within four tenths, and is taken for it from two tenths on', () => {
    const state = startDescriptors();
    expect(seen(state, 625, 686)).toEqual({ lowKPa: 625, highKPa: 686 });
    expect(seen(state, 615, 686)).toEqual({ lowKPa: 600, highKPa: 700 });
    expect(seen(state, 625, 686)).toEqual({ lowKPa: 600, highKPa: 700 });
    expect(seen(state, 638, 690)).toEqual({ lowKPa: 600, highKPa: 700 });
    expect(seen(state, 645, 690)).toEqual({ lowKPa: 645, highKPa: 690 });
  });

  test('of a tank that is read each minute it is what is seen', () => {
    const state = startDescriptors();
    for (let cycle = 0; cycle < 8; cycle += 1) for (const [edge, kPa] of [['start', 610], ['stop', 695]] as const) rememberEdge(state, setupOf({ cutInKPa: 600, cutOutKPa: 700, reportEveryS: 60 }), edge, kPa);
    state.heardS = 100_000;
    state.usualS = 60;
    expect(filledBand(state, setupOf({ cutInKPa: 600, cutOutKPa: 700, reportEveryS: 60 }))).toEqual({ lowKPa: 610, highKPa: 695 });
  });
});

test('setBand() is what was logged last, each end by itself, else what is registered', () => {
  const setup = { ...sparse, setPoints: [{ fromMs: START_MS, cutInKPa: 550 }, { fromMs: START_MS + 2000, cutInKPa: 620, cutOutKPa: 720 }] };
  const at = (lastAnyMs: number): ReturnType<typeof setBand> => setBand({ ...startDescriptors(), lastAnyMs }, setup);
  expect(at(START_MS - 1)).toEqual({ lowKPa: 600, highKPa: 700 });
  expect(at(START_MS + 1)).toEqual({ lowKPa: 550, highKPa: 700 });
  expect(at(START_MS + 3000)).toEqual({ lowKPa: 620, highKPa: 720 });
  expect(setBand(startDescriptors(), setupOf({ cutInKPa: 600 }))).toBeNull();
});
