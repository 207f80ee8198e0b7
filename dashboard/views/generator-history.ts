import type { Entry } from '../../shared/entry.ts';
import type { Finding, FindingAction } from '../../shared/finding.ts';
import type { IssuedRecord } from '../../shared/issued-record.ts';
import { causeInWords, leakSide, probabilityOf } from './cause-words.ts';
import { ENTRY_KIND_WORDS, PART_WORDS, sureWords } from './domain-words.ts';
import { measuredValueWords } from './measured-words.ts';
import { csvCell } from './service-list-csv.ts';

/** One line of what ever happened at a generator. `says` is a sentence, `by` a person where one did it. */
export type HistoryLine = { readonly at: string; readonly kind: 'entry' | 'finding' | 'action' | 'record'; readonly says: string; readonly by: string | null; readonly id: string };

/** Everything that is kept of a generator for good, oldest first: what people logged, what was found, what they did about it, what was issued. */
export function generatorHistory(params: { readonly entries: readonly Entry[]; readonly findings: readonly Finding[]; readonly actions: readonly FindingAction[]; readonly records: readonly IssuedRecord[] }): readonly HistoryLine[] {
  const lines: HistoryLine[] = [
    ...params.entries.map((entry) => entryLine(entry)),
    ...params.findings.flatMap((finding): HistoryLine[] => [
      { at: finding.openedAt, kind: 'finding', id: finding.id, by: null, says: `found: ${causeInWords(finding.cause, finding.among, leakSide(finding.evidence))} (${sureWords(probabilityOf(finding))})` },
      ...(finding.closedAt === null ? [] : [{ at: finding.closedAt, kind: 'finding' as const, id: finding.id, by: null, says: `closed: ${causeInWords(finding.cause, finding.among)}${finding.closedReason === null ? '' : `, ${finding.closedReason}`}` }]),
    ]),
    ...params.actions.map((action): HistoryLine => ({ at: new Date(action.atMs).toISOString(), kind: 'action', id: action.finding, by: action.by, says: `${action.action} a finding${action.note === undefined ? '' : `: ${action.note}`}` })),
    ...params.records.map((record): HistoryLine => ({ at: record.issuedAt, kind: 'record', id: `${record.number}.${record.revision}`, by: record.issuedBy, says: `issued: ${record.title}, record ${record.number}, revision ${record.revision}` })),
  ];
  return lines.sort((a, b) => Date.parse(a.at) - Date.parse(b.at));
}

function entryLine(entry: Entry): HistoryLine {
  const measured = (name: string, values: Readonly<Record<string, number>> | undefined): string => {
    const words = Object.entries(values ?? {}).map(([one, value]) => measuredValueWords(one, value)).join(', ');
    return words === '' ? '' : `; ${name}: ${words}`;
  };
  const replaced = entry.replaced.length === 0 ? '' : `; replaced: ${entry.replaced.map((part) => PART_WORDS[part]).join(', ')}`;
  const late = Date.parse(entry.recordedAt) - Date.parse(entry.finishedAt ?? entry.startedAt) > 3_600_000 ? `; recorded ${entry.recordedAt}` : '';
  return { at: entry.startedAt, kind: 'entry', id: entry.id, by: entry.by ?? null, says: `${ENTRY_KIND_WORDS[entry.kind]}${replaced}${measured('as found', entry.readings.asFound)}${measured('as left', entry.readings.asLeft)}${entry.note === undefined ? '' : `; ${entry.note}`}${late}` };
}

/** The same for a spreadsheet. */
export function historyCsv(lines: readonly HistoryLine[]): string {
  return [['at', 'kind', 'what', 'by', 'id'], ...lines.map((line) => [line.at, line.kind, line.says, line.by, line.id])].map((cells) => `${cells.map(csvCell).join(',')}\r\n`).join('');
}
