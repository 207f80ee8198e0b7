// Issue: what people take out of service, or say they work on, stands still by intent: nothing is looked for (design, section 4.2, data states).
// World: four generators that don't start for six days; three of them were taken out of service then, one with a run state, one with counters, one with the tank alone.
import { beforeAll, describe, expect, test } from 'vitest';
import { certainCondition } from '../../analysis/causes/condition.ts';
import { noteOff, withoutExpected } from '../../analysis/out-of-service.ts';
import { entrySchema } from '../../shared/entry.ts';
import type { RankingReport } from '../../shared/finding.ts';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import { lived, type Lived, START_MS } from './causes/lived-world.ts';

const [FROM, UNTIL] = [25.4, 31.4];

describe('a generator that is out of service', () => {
  let of: ReadonlyMap<string, Lived>;
  let report: RankingReport;
  const one = (id: string, channels: string): string => `      - { id: ${id}, channels: [${channels}], reportEveryS: 120, faults: [{ cause: not-starting, severity: urgent, from: ${FROM}, until: ${UNTIL} }] }`;

  beforeAll(async () => {
    ({ of, report } = await lived(['name: out of service', 'days: 45', 'sites:', '  - id: a', '    generators:',
      one('told', 'running, tank-pressure'), one('counted', 'run-time, starts'), one('read', 'tank-pressure'), one('dead', 'running, tank-pressure'), one('off', 'running, tank-pressure'),
    ].join('\n'), { offDays: Object.fromEntries([...['told', 'counted', 'read'].map((id) => [id, [FROM - 0.01, UNTIL + 0.05] as const] as const), ['off', [FROM + 1, 99] as const] as const]) }));
  }, 240_000);

  const since = (id: string) => of.get(`a/${id}`)!.findings.filter((finding) => Date.parse(finding.openedAt) > START_MS + FROM * DAY_MS);

  test('is not said to stand still, nor to be drawn from less, and what is usual is known when it is back', () => {
    for (const id of ['told', 'counted', 'read']) expect(since(id), id).toEqual([]);
    expect(since('dead').map((finding) => finding.cause)).toContain('not-starting');
  });

  test('ends what was said to stand still, and is ranked last', () => {
    const [said, ...more] = since('off');
    expect(said).toMatchObject({ cause: 'not-starting', closedReason: 'superseded' });
    expect((Date.parse(said!.closedAt!) - START_MS) / DAY_MS).toBeCloseTo(FROM + 1, 1);
    expect(more).toEqual([]);
    expect(report.ranking.at(-1)).toMatchObject({ generator: 'off', dataState: 'out-of-service', because: 'Out of service, as the registry says: nothing is looked for.' });
  });
});

describe('withoutExpected()', () => {
  const NOW_MS = Date.UTC(2026, 4, 5);
  const [dead, shut, endless] = [certainCondition('running', 'not-starting', 0.9, NOW_MS, 'It stands.', true), certainCondition('supply', 'valve-left-shut', 0.9, NOW_MS, 'It sags.', true), certainCondition('running', 'runs-without-end', 0.9, NOW_MS, 'It runs on.', true)];
  const told = (kind: string, fromH: number, toH: number | null, conditions = [dead, shut, endless]): string[] => {
    const entry = entrySchema.parse({ id: 'e', site: 'a', generator: 'b', kind, startedAt: new Date(NOW_MS + fromH * HOUR_MS).toISOString(), ...(toH === null ? {} : { finishedAt: new Date(NOW_MS + toH * HOUR_MS).toISOString() }) });
    return withoutExpected(conditions, [entry], NOW_MS).map((condition) => condition.cause);
  };
  const all = ['not-starting', 'valve-left-shut', 'runs-without-end'];

  test('says nothing of what an impairment or a test that goes on brings about', () => {
    expect(told('impairment', -50, 20)).toEqual([]);
    expect(told('hold-test', -1, null)).toEqual([]);
    expect(told('service', -1, 1)).toEqual(all);
    expect(told('impairment', 1, 20)).toEqual(all);
    expect(withoutExpected([certainCondition('power', 'no-power', 0.97, NOW_MS, 'No mains.', true)], [], NOW_MS)).toHaveLength(1);
  });

  test('of a purge only that nothing starts, and after an impairment so once it could have', () => {
    expect(told('purge', -5, 20)).toEqual(['not-starting']);
    expect(told('impairment', -50, -0.5)).toEqual([]);
    expect(told('impairment', -50, -3)).toEqual(['not-starting']);
    expect(told('impairment', -50, -13)).toEqual(all);
    // A rest that began before says nothing by its length.
    const byRest = { ...dead, missingChannels: ['tank-pressure' as const] };
    expect(told('impairment', -50, -13, [byRest])).toEqual([]);
    expect(told('impairment', -150, -50, [byRest])).toEqual(['not-starting']);
  });
});

test('noteOff() keeps each time from its word to the next', () => {
  const off = noteOff([], true, 10);
  expect(noteOff([], false, 10)).toEqual([]);
  expect(off).toEqual([{ fromMs: 10, toMs: null }]);
  expect(noteOff(off, true, 20)).toBe(off);
  expect(noteOff(noteOff(off, false, 30), true, 40)).toEqual([{ fromMs: 10, toMs: 30 }, { fromMs: 40, toMs: null }]);
});
