// Source: MetroPT-3 (UCI 791, CC BY 4.0) and tracebase (ODbL 1.0), see data/README.md. Real machines, not ours.
import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { fold, type Row, setupOf } from './ideal-tank.ts';

const DATA = new URL('./data/', import.meta.url);
/** The five loaded starts, as the record's own load state shows them. */
const STARTS = ['00:23:08', '00:57:19', '01:30:41', '02:04:23', '02:37:54'].map((time) => Date.parse(`2020-02-01T${time}Z`));
const SETUP = setupOf({ reportEveryS: 10 });
const DONE_MS = Date.parse('2020-02-01T06:00:00Z');

function compressorRows(): { loaded: Row[]; tank: Row[] } {
  const lines = readFileSync(new URL('compressor_rows.csv', DATA), 'utf8').trim().split('\n').slice(1).map((line) => line.split(','));
  const at = (line: readonly string[]): number => Date.parse(`${line[0]!.replace(' ', 'T')}Z`);
  return { loaded: lines.map((line) => ({ channel: 'running', atMs: at(line), value: Number(line[2]) })), tank: lines.map((line) => ({ channel: 'tank-pressure', atMs: at(line), value: Number(line[1]) * 100 })) };
}

describe('a real compressor', () => {
  test('stepDescriptors() finds the five loaded starts, duty and band from the load state', () => {
    const { loaded, tank } = compressorRows();
    const { cycles, quarters } = fold([...tank, ...loaded].sort((a, b) => a.atMs - b.atMs), SETUP, DONE_MS);
    expect(cycles.map((cycle) => cycle.startMs)).toEqual(STARTS);
    const [row] = quarters;
    expect(row!.dutyRatio).toBeCloseTo(0.051, 3);
    expect(row!.starts).toBe(5);
    // Lowest and highest of the record: 8.066 and 10.098 bar; the medians of five starts and stops lie at them.
    expect(row!.cutInKPa).toBeCloseTo(806.6, 0);
    expect(row!.cutOutKPa).toBeCloseTo(1009.8, 0);
    // Its consumers draw 3.4 bar/h over whole rests (gauge 10.1 to 8.07 in 32 min is 3.8 with the first minutes); 3.35 settled.
    expect((row!.demand!.value * 60) / 100).toBeGreaterThan(3.25);
    expect((row!.demand!.value * 60) / 100).toBeLessThan(3.5);
  });

  test('stepDescriptors() finds them from the saw-tooth of the tank alone', () => {
    const { tank } = compressorRows();
    const { cycles, quarters } = fold(tank, SETUP, DONE_MS);
    expect(cycles).toHaveLength(5);
    // One sample is 10 s; the pressure moves only after the compressor's own pipes have filled, up to half a sample more.
    for (const [index, cycle] of cycles.entries()) expect(Math.abs(cycle.startMs - STARTS[index]!)).toBeLessThanOrEqual(15_000);
    const [row] = quarters;
    expect(row!.source).toBe('tank-pressure');
    expect(row!.cutInKPa).toBeCloseTo(806.6, 0);
    expect(row!.cutOutKPa).toBeCloseTo(1009.8, 0);
    // 5.1 % loaded; the tank rises for a little less than the compressor is loaded.
    expect(row!.dutyRatio).toBeGreaterThan(0.043);
    expect(row!.dutyRatio).toBeLessThan(0.052);
  });
});

describe('real appliances that cycle', () => {
  const files = readdirSync(DATA).filter((name) => name.startsWith('appliance_'));
  test('there are six of them', () => expect(files).toHaveLength(6));

  test.each(files)('stepDescriptors() tiles the record with run, rest and gaps: %s', (file) => {
    const samples = readFileSync(new URL(file, DATA), 'utf8').trim().split('\n').slice(1).map((line) => line.split(',').map(Number));
    const startMs = Date.UTC(2026, 0, 5);
    const rows: Row[] = samples.map(([second, watts]) => ({ channel: 'running', atMs: startMs + second! * 1000, value: watts! > 30 ? 1 : 0 }));
    const setup = setupOf({ reportEveryS: 60 });
    const { quarters, cycles } = fold(rows, setup, startMs + 3 * 86_400_000);
    // Straight from the samples: each holds until the next, unless that is more than three usual gaps away.
    let [runS, restS, starts] = [0, 0, 0];
    for (let index = 1; index < rows.length; index += 1) {
      const gapS = (rows[index]!.atMs - rows[index - 1]!.atMs) / 1000;
      if (gapS > 180) continue;
      if (rows[index - 1]!.value === 1) runS += gapS;
      else restS += gapS;
      if (rows[index - 1]!.value === 0 && rows[index]!.value === 1) starts += 1;
    }
    const total = (name: 'runS' | 'restS' | 'coveredS' | 'starts'): number => quarters.reduce((sum, row) => sum + row[name], 0);
    expect(total('runS')).toBeCloseTo(runS, 6);
    expect(total('restS')).toBeCloseTo(restS, 6);
    expect(total('coveredS')).toBeCloseTo(runS + restS, 6);
    expect(total('starts')).toBe(starts);
    // Cycles leave out the rest before the first run and what goes on at the end; all else they tile too.
    expect(cycles.reduce((sum, cycle) => sum + cycle.runS, 0)).toBeLessThanOrEqual(runS + 1e-6);
    for (const [index, cycle] of cycles.entries()) {
      const next = cycles[index + 1];
      if (next !== undefined && !cycle.cut) expect(cycle.startMs + (cycle.runS + cycle.restS) * 1000).toBeCloseTo(next.startMs, 3);
    }
  });
});
