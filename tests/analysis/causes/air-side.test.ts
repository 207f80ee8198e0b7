// World: generators with an air receiver, whose regulator keeps what reaches the membrane as it is: wear and open drains show in
// nothing but how long the compressor runs for the same nitrogen.
import { beforeAll, describe, expect, test } from 'vitest';
import { DAY_MS } from '../../../shared/time.ts';
import { lived, type Lived, START_MS } from './lived-world.ts';

describe('the air side before a receiver', () => {
  let of: ReadonlyMap<string, Lived>;
  const one = (id: string, more: string): string => `      - { id: ${id}, receiverLitres: 150, wander: 0.08, reportEveryS: 300, ${more} }`;

  beforeAll(async () => {
    ({ of } = await lived(['name: receivers', 'days: 55', 'sites:', '  - id: a', '    generators:',
      one('good', 'channels: full, upsets: [{ kind: trip-test, from: 35.4, hours: 60 }, { kind: cold-snap, from: 45, hours: 80, size: -12 }]'),
      one('worn', 'channels: full, faults: [{ cause: compressor-side, severity: marked, from: 30 }]'),
      one('drain', 'channels: slim, faults: [{ cause: drain-stuck-open, severity: barely, from: 30 }]'),
      one('leak', 'channels: full, faults: [{ cause: leak, severity: plain, from: 30 }]'),
    ].join('\n')));
  }, 240_000);

  const middle = (id: string, from: number, to: number, value: (day: Lived['days'][number]) => number | null | undefined): number => {
    const values = of.get(`a/${id}`)!.days.filter((day) => day.startMs >= START_MS + from * DAY_MS && day.startMs < START_MS + to * DAY_MS).flatMap((day) => value(day) ?? []).sort((a, b) => a - b);
    return values[Math.floor(values.length / 2)]!;
  };

  test('delivery does not know of wear, and the compressor runs a tenth longer', () => {
    const change = (value: (day: Lived['days'][number]) => number | null | undefined): number => middle('worn', 32, 55, value) / middle('worn', 3, 30, value) - 1;
    expect(Math.abs(change((day) => day.delivery?.value))).toBeLessThan(0.02);
    expect(change((day) => day.compressorRatio)).toBeGreaterThan(0.08);
    expect(change((day) => day.compressorRatio)).toBeLessThan(0.13);
  });

  test('wear and an open drain are found and parted, and good order is left alone', () => {
    expect(of.get('a/good')!.findings.map((finding) => finding.cause)).toEqual([]);
    const [worn] = of.get('a/worn')!.findings;
    expect(worn!.cause).toBe('compressor-side');
    expect((Date.parse(worn!.openedAt) - START_MS) / DAY_MS).toBeLessThan(42);
    expect(worn!.evidence[0]!.says).toMatch(/^For each hour in which nitrogen is made the compressor runs \d\d\.\d min; before, \d\d\.\d min\.$/);
    const [drain] = of.get('a/drain')!.findings;
    expect(drain!.causes.map((cause) => cause.cause)).toContain('drain-stuck-open');
    expect((Date.parse(drain!.openedAt) - START_MS) / DAY_MS).toBeLessThan(34);
  });

  test('a leak in the piping is none of the air side', () => {
    expect(of.get('a/leak')!.findings.map((finding) => finding.cause)).toEqual(['leak']);
    expect(Math.abs(middle('leak', 32, 55, (day) => day.compressorRatio) / middle('leak', 3, 30, (day) => day.compressorRatio) - 1)).toBeLessThan(0.02);
  });
});
