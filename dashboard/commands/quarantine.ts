import type { ReleaseAnswer } from '../../shared/api.ts';
import { QUARANTINE_REASONS, type QuarantineItem, type QuarantineReason } from '../../shared/quarantine.ts';
import { isoFromMs } from '../../shared/time.ts';
import { defineCommand, numberOf, UsageError } from './command.ts';
import { table } from './terminal.ts';
import { askServerOrRecords, DATA_OPTION } from './where-records-are.ts';

export const quarantine = defineCommand({
  name: 'quarantine',
  summary: 'list what arrived and was not taken, and why; or try it again after a correction',
  options: {
    reason: { type: 'string', value: 'REASON', says: QUARANTINE_REASONS.join(', ') },
    generator: { type: 'string', value: 'SITE/GENERATOR', says: 'of one generator only' },
    limit: { type: 'string', value: 'N', says: 'at most so many, newest first (default 50)' },
    release: { type: 'string', value: 'ID', multiple: true, says: 'read it again, once for each; what is still wrong stays' },
    by: { type: 'string', value: 'NAME', says: 'who releases (wanted with --release)' },
    json: { type: 'boolean', says: 'as JSON' },
    data: DATA_OPTION,
  },
  example: 'npx --no-install lull quarantine --reason unknown-unit',
  async run(values, _given, context) {
    const { terminal } = context;
    if (values.release !== undefined) {
      const by = values.by?.trim() ?? '';
      if (by === '') throw new UsageError('--by NAME is missing: a release says who asked for it');
      const ids = values.release.map((text) => numberOf('release', text, 0, 1, Number.MAX_SAFE_INTEGER));
      const answer = await askServerOrRecords<ReleaseAnswer>(context, values.data, {
        online: (api) => api.post<ReleaseAnswer>('/api/v1/quarantine/release', { ids, by }),
        offline: () => Promise.reject(new Error('no server runs on this data folder; start lull serve first, because released readings go through its ingest')),
      });
      terminal.out(values.json === true ? JSON.stringify(answer) : `released ${answer.released}, still refused or not waiting ${answer.stillRefused}${answer.stillRefused === 0 ? '' : '; lull quarantine lists what waits, and why'}`);
      return;
    }
    const reason = reasonOf(values.reason);
    const limit = numberOf('limit', values.limit, 50, 1, 10_000);
    const query = new URLSearchParams({ ...(reason === undefined ? {} : { reason }), ...(values.generator === undefined ? {} : { generator: values.generator }) });
    const items = await askServerOrRecords<readonly QuarantineItem[]>(context, values.data, {
      online: (api) => api.list<QuarantineItem>(`/api/v1/quarantine?${query.toString()}`, limit),
      offline: (records) => records.quarantined({ released: false, limit, ...(reason === undefined ? {} : { reason }), ...(values.generator === undefined ? {} : { generator: values.generator }) }),
    });
    terminal.out(values.json === true ? JSON.stringify(items, null, 2) : shown(items, terminal.columns));
  },
});

function reasonOf(text: string | undefined): QuarantineReason | undefined {
  if (text === undefined) return undefined;
  const reason = QUARANTINE_REASONS.find((one) => one === text);
  if (reason === undefined) throw new UsageError(`--reason must be one of ${QUARANTINE_REASONS.join(', ')}: current value is ${JSON.stringify(text)}`);
  return reason;
}

function shown(items: readonly QuarantineItem[], width: number): string {
  if (items.length === 0) return 'nothing is waiting';
  return table(['id', 'received', 'reason', 'generator', 'channel', 'says'], items.map((item) => [`${item.id}`, isoFromMs(item.receivedMs).slice(0, 19), item.reason, item.generator ?? item.topic, item.channel ?? '–', item.says]), width, new Set([0]));
}
