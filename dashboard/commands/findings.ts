import type { RankingReport } from '../../shared/finding.ts';
import { defineCommand } from './command.ts';
import { findingsTable, reportFrom } from './show-report.ts';
import { askServerOrRecords, DATA_OPTION } from './where-records-are.ts';

export const findings = defineCommand({
  name: 'findings',
  summary: 'list what was found: since when, which cause, how sure',
  options: {
    all: { type: 'boolean', says: 'closed ones too (in JSON they always are)' },
    json: { type: 'boolean', says: 'the whole report as one JSON object' },
    data: DATA_OPTION,
  },
  example: 'npx --no-install lull findings --all --data demo-data',
  async run(values, _given, context) {
    const report = await askServerOrRecords(context, values.data, {
      online: (api) => api.get<RankingReport>('/api/v1/ranking'),
      offline: (records) => reportFrom(records, context.clock.nowMs()),
    });
    context.terminal.out(values.json === true ? JSON.stringify(report, null, 2) : findingsTable(report, context.terminal.columns, values.all === true));
  },
});
