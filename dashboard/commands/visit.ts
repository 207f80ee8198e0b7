import type { VisitPosted } from '../../shared/api.ts';
import { ENTRY_KINDS, type Entry, entrySchema } from '../../shared/entry.ts';
import { PARTS, problemsOf } from '../../shared/registry.ts';
import { isoFromMs, msFromIso } from '../../shared/time.ts';
import { type Context, defineCommand, UsageError } from './command.ts';
import { askServerOrRecords, DATA_OPTION } from './where-records-are.ts';

export const visit = defineCommand({
  name: 'visit',
  summary: 'record a visit, a test or another entry about a generator; the baseline starts anew with it',
  wants: ['SITE/GENERATOR'],
  options: {
    by: { type: 'string', value: 'NAME', says: 'who records it (wanted)' },
    started: { type: 'string', value: 'ISO', says: 'when it began (wanted), such as 2026-03-02T09:30:00Z' },
    finished: { type: 'string', value: 'ISO', says: 'when it ended' },
    kind: { type: 'string', value: 'KIND', says: `${ENTRY_KINDS.join(', ')} (default service)` },
    replaced: { type: 'string', value: 'PART', multiple: true, says: `what was replaced, once for each: ${PARTS.join(', ')}` },
    adjusted: { type: 'string', value: 'NAME=VALUE', multiple: true, says: 'what was set differently, such as cutOutKPa=720' },
    'as-found': { type: 'string', value: 'NAME=NUMBER', multiple: true, says: 'a value read on arrival' },
    'as-left': { type: 'string', value: 'NAME=NUMBER', multiple: true, says: 'a value read on leaving' },
    note: { type: 'string', value: 'TEXT', says: 'anything else' },
    id: { type: 'string', value: 'ID', says: 'correct the entry with this id instead of making a new one' },
    json: { type: 'boolean', says: 'print the entry as JSON' },
    data: DATA_OPTION,
  },
  example: 'npx --no-install lull visit quay-7/gen-1 --by "R. Lind" --started 2026-03-02T09:30:00Z --finished 2026-03-02T11:00:00Z --replaced coalescing-element',
  async run(values, given, context) {
    const by = values.by?.trim() ?? '';
    if (by === '') throw new UsageError('--by NAME is missing: an entry says who recorded it');
    if (values.started === undefined) throw new UsageError('--started ISO is missing');
    const [site = '', generator = '', ...more] = (given[0] ?? '').split('/');
    if (generator === '' || more.length > 0) throw new UsageError(`the generator must be written SITE/GENERATOR: current value is ${JSON.stringify(given[0])}`);
    const draft = {
      ...(values.id === undefined ? {} : { id: values.id }),
      site,
      generator,
      ...(values.kind === undefined ? {} : { kind: values.kind }),
      startedAt: timeOf('started', values.started),
      ...(values.finished === undefined ? {} : { finishedAt: timeOf('finished', values.finished) }),
      replaced: values.replaced ?? [],
      adjusted: pairsOf('adjusted', values.adjusted, (text) => (text !== '' && Number.isFinite(Number(text)) ? Number(text) : text)),
      readings: { ...measured('as-found', 'asFound', values['as-found']), ...measured('as-left', 'asLeft', values['as-left']) },
      by,
      ...(values.note === undefined ? {} : { note: values.note }),
    };
    checked({ id: 'not given yet', ...draft });
    const entry = await askServerOrRecords(context, values.data, {
      // The server says when it became known: its clock may be a scaled one.
      online: async (api) => (await api.post<VisitPosted>('/api/v1/visits', draft)).entry,
      async offline(records) {
        const nowMs = context.clock.nowMs();
        const complete = checked({ id: newId(draft.startedAt, context), ...draft, recordedAt: isoFromMs(nowMs) });
        await records.saveEntry(complete, by);
        await records.audit({ atMs: nowMs, by, did: `recorded ${complete.kind}`, about: `${site}/${generator}` });
        return complete;
      },
    });
    context.terminal.out(values.json === true ? JSON.stringify(entry, null, 2) : `recorded ${entry.kind} ${entry.id} of ${entry.site}/${entry.generator}, known since ${entry.recordedAt}`);
  },
});

function checked(draft: unknown): Entry {
  const parsed = entrySchema.safeParse(draft);
  if (parsed.success) return parsed.data;
  throw new UsageError(problemsOf(parsed.error).map((problem) => `${problem.where}: ${problem.says}`).join('; '));
}

/** A name that sorts by time and that two people at one minute don't share. */
function newId(startedAt: string, context: Context): string {
  return `visit-${startedAt.slice(0, 16).replaceAll(/\D/g, '')}-${Math.floor(context.random() * 0x1_0000_0000).toString(36)}`;
}

function timeOf(flag: string, text: string): string {
  const ms = msFromIso(text);
  if (ms === undefined) throw new UsageError(`--${flag} must be a time in ISO 8601, such as 2026-03-02T09:30:00Z: current value is ${JSON.stringify(text)}`);
  return isoFromMs(ms);
}

function pairsOf<T>(flag: string, pairs: readonly string[] | undefined, valueOf: (text: string) => T): Record<string, T> {
  return Object.fromEntries(
    (pairs ?? []).map((pair) => {
      const at = pair.indexOf('=');
      if (at < 1) throw new UsageError(`--${flag} must be NAME=VALUE: current value is ${JSON.stringify(pair)}`);
      return [pair.slice(0, at), valueOf(pair.slice(at + 1))];
    }),
  );
}

function measured(flag: string, name: 'asFound' | 'asLeft', pairs: readonly string[] | undefined): Partial<Record<'asFound' | 'asLeft', Record<string, number>>> {
  if (pairs === undefined) return {};
  const numberOf = (text: string): number => {
    const value = Number(text);
    if (text === '' || !Number.isFinite(value)) throw new UsageError(`--${flag} must be NAME=NUMBER: current value is ${JSON.stringify(text)}`);
    return value;
  };
  return { [name]: pairsOf(flag, pairs, numberOf) };
}
