// Issue: lull rank says how long a generator can wait as the pages do: at once, being checked, or a day.
import { expect, test } from 'vitest';
import { rankingTable } from '../../../dashboard/commands/show-report.ts';
import type { Finding, RankingReport, RankingRow } from '../../../shared/finding.ts';

const AT = '2026-11-24T12:00:00.000Z';
const row = (rank: number, more: Partial<RankingRow>): RankingRow => ({ rank, site: 'quay', generator: `gen-${rank}`, dataState: 'reporting', dutyRatio: 0.2, baselineDutyRatio: null, demandChange: null, deliveryChange: null, cause: null, causes: [], serviceBy: null, forecasts: [], dueBy: '2027-06-14T00:00:00.000Z', because: '', findings: [], ...more });
const found = (id: string, state: Finding['state']): Finding => ({ id, site: 'quay', generator: 'gen-1', openedAt: AT, onset: { earliest: null, likely: null, latest: null }, cause: 'valve-left-shut', causes: [{ cause: 'valve-left-shut', probability: 1 }], among: null, missingChannels: [], alongside: [], history: [], evidence: [], settings: '', state, shelvedUntil: null, closedAt: null, closedReason: null });

test('rankingTable() sends nobody away for half a year from a valve that is shut, and takes the early date when it is near', () => {
  const report: RankingReport = {
    at: AT, findings: [found('a', 'new'), found('b', 'verifying')],
    ranking: [row(1, { cause: 'valve-left-shut', findings: ['a'] }), row(2, { cause: 'valve-left-shut', findings: ['b'] }), row(3, { serviceBy: { earliest: '2026-11-28T00:00:00.000Z', likely: '2026-12-20T00:00:00.000Z', latest: null, limit: 'dutyRatio' } }), row(4, {}), row(5, { dueBy: null })],
  };
  const lines = rankingTable(report, 200).split('\n').slice(1, 6);
  expect(lines.map((line) => /at once|being checked|\d{4}-\d\d-\d\d/.exec(line)?.[0])).toEqual(['at once', 'being checked', '2026-11-28', '2027-06-14', undefined]);
});
