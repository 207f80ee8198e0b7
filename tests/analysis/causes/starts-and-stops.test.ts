// Issue: not starting and stopping short are known within the hour, and what only looks like it isn't said (design, section 6).
// World: one fault or upset each, from the fortieth day on; tank and run state each one to ten minutes.
import { beforeAll, describe, expect, test } from 'vitest';
import { DAY_MS, HOUR_MS } from '../../../shared/time.ts';
import { lived, type Lived, START_MS } from './lived-world.ts';

const FROM = 40.3;

describe('starts and stops of lived worlds', () => {
  let of: ReadonlyMap<string, Lived>;
  const one = (id: string, everyS: number, more: string): string => `      - { id: ${id}, channels: [running, tank-pressure], reportEveryS: ${everyS}, ${more} }`;
  const fault = (cause: string, more: string): string => `{ cause: ${cause}, from: ${FROM}, ${more} }`;

  beforeAll(async () => {
    ({ of } = await lived(['name: starts and stops', 'days: 48', 'sites:', '  - id: a', '    generators:',
      one('half-span', 60, `faults: [${fault('sensor-fault', 'variant: unit, severity: marked, channel: tank-pressure')}]`),
      one('lowered', 300, `faults: [${fault('set-point-changed', 'variant: down, severity: urgent')}]`),
      one('dead', 600, `faults: [${fault('not-starting', 'severity: urgent')}]`),
      one('dead-before', 600, `faults: [{ cause: not-starting, severity: urgent, from: 20.3, until: 23.3 }, ${fault('not-starting', 'severity: urgent')}]`),
      one('trips', 300, `faults: [${fault('stops-short', 'severity: urgent')}]`),
    ].join('\n')));
  }, 240_000);

  const causes = (id: string): string[] => of.get(`a/${id}`)!.findings.map((finding) => finding.cause);
  const hours = (id: string): number => (Date.parse(of.get(`a/${id}`)!.findings.at(-1)!.openedAt) - START_MS - FROM * DAY_MS) / HOUR_MS;

  test('a gauge that reads half from one moment to the next opens no search for the motor, however often it starts', () => {
    expect(causes('half-span')).toContain('sensor-fault');
    expect(causes('half-span')).not.toContain('not-starting');
  });

  test('a start that was set lower says so itself, in the finding that took it for one that failed', () => {
    const [finding] = of.get('a/lowered')!.findings;
    expect(finding!.cause).toBe('set-point-changed');
    expect(finding!.history.map((line) => line.cause)).toEqual(['not-starting', 'set-point-changed']);
    expect(finding!.evidence[0]!.says).toMatch(/^It does start: at \d+ kPa and \d+ kPa, where it started at \d+ kPa\./);
  });

  test('a compressor that is dead is told within the hour of its start, also where it was dead for days before', () => {
    for (const id of ['dead', 'dead-before']) {
      const judged = of.get(`a/${id}`)!.judged.at(-1)!;
      expect(judged).toMatchObject({ outcome: 'right', finding: { cause: 'not-starting' } });
    }
    // The usual rest of this one is under four hours, and the tank stands anywhere in its band.
    expect(hours('dead')).toBeLessThan(5);
    expect(Math.abs(hours('dead-before') - hours('dead'))).toBeLessThan(5);
  });

  test('a motor that trips after two minutes is told', () => {
    expect(causes('trips')).toEqual(['stops-short']);
    expect(hours('trips')).toBeLessThan(12);
  });
});
