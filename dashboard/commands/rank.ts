import type { RankingReport } from '../../shared/finding.ts';
import { defineCommand } from './command.ts';
import { rankingTable, reportFrom } from './show-report.ts';
import { askServerOrRecords, DATA_OPTION } from './where-records-are.ts';

export const rank = defineCommand({
  name: 'rank',
  summary: 'list the generators, the one that needs a person first',
  options: {
    json: { type: 'boolean', says: 'the whole report as one JSON object' },
    data: DATA_OPTION,
  },
  example: 'npx --no-install lull rank --data demo-data',
  async run(values, _given, context) {
    const report = await askServerOrRecords(context, values.data, {
      online: (api) => api.get<RankingReport>('/api/v1/ranking'),
      offline: (records) => reportFrom(records, context.clock.nowMs()),
    });
    context.terminal.out(values.json === true ? JSON.stringify(report, null, 2) : rankingTable(report, context.terminal.columns));
  },
});
