import { type Finding, type RankingReport, type RankingRow, withActions } from '../../shared/finding.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { lastServices, SERVED_WITHIN_MS } from '../../shared/last-service.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { isBeingChecked } from '../views/being-checked.ts';
import { mustGoAtOnce } from '../views/cause-words.ts';
import { leadingFinding } from '../views/overview-rows.ts';
import { canWaitUntil } from '../views/service-list.ts';
import { table } from './terminal.ts';

const NOTHING: RankingReport = { at: null, ranking: [], findings: [] };

/** The report as the records hold it, with what people did laid over the findings. */
export async function reportFrom(records: RecordStore, nowMs: number): Promise<RankingReport> {
  const report = (await records.report()) ?? NOTHING;
  const actions = await records.actions();
  const served = lastServices(await records.entries({ recordedFromMs: nowMs - SERVED_WITHIN_MS }), nowMs);
  return { ...report, findings: report.findings.map((finding) => withActions(finding, actions.filter((action) => action.finding === finding.id), nowMs, served.get(`${finding.site}/${finding.generator}` as GeneratorKey)?.recordedMs)) };
}

/** The ranking for people, within `width` columns. */
export function rankingTable(report: RankingReport, width: number): string {
  if (report.ranking.length === 0) return report.at === null ? 'no ranking yet: the first comes with the first tick after a reading, on a whole 10 minutes' : 'no generator has been heard yet';
  const findings = new Map(report.findings.map((finding) => [finding.id, finding]));
  const rows = report.ranking.map((row) => [`${row.rank}`, `${row.site}/${row.generator}`, percent(row.dutyRatio), change(row.demandChange), change(row.deliveryChange), row.cause ?? '–', waitUntil(row, leadingFinding(row, findings), report.at), row.because]);
  return `${table(['#', 'generator', 'duty', 'demand', 'deliv.', 'cause', 'can wait until', 'because'], rows, width, new Set([0, 2, 3, 4]))}\n${asOf(report)}`;
}

/** The findings for people, open ones first, newest first. */
export function findingsTable(report: RankingReport, width: number, closedToo: boolean): string {
  const shown = report.findings.filter((finding) => closedToo || finding.state !== 'closed').toSorted((a, b) => Number(a.state === 'closed') - Number(b.state === 'closed') || b.openedAt.localeCompare(a.openedAt));
  if (shown.length === 0) return `no ${closedToo ? '' : 'open '}finding; that is no proof of order\n${asOf(report)}`;
  const rows = shown.map((finding) => [finding.id, `${finding.site}/${finding.generator}`, minute(finding.openedAt), finding.state, causeOf(finding), strongest(finding)]);
  return `${table(['id', 'generator', 'opened', 'state', 'cause', 'evidence'], rows, width)}\n${asOf(report)}`;
}

function asOf(report: RankingReport): string {
  return report.at === null ? 'no tick yet' : `as of ${minute(report.at)} UTC`;
}

function causeOf(finding: Finding): string {
  if (finding.cause === 'undetermined' && finding.among !== null) return `undetermined: ${finding.among.join(' or ')}`;
  const sure = finding.causes.find((one) => one.cause === finding.cause)?.probability;
  return sure === undefined ? finding.cause : `${finding.cause} ${Math.round(sure * 100)} %`;
}

function strongest(finding: Finding): string {
  return finding.evidence.toSorted((a, b) => Math.abs(b.weight) - Math.abs(a.weight))[0]?.says ?? '';
}

/** As the pages say it: at once, being checked, or a day of UTC. */
function waitUntil(row: RankingRow, lead: Finding | undefined, at: string | null): string {
  if (lead !== undefined && isBeingChecked(lead)) return 'being checked';
  if (mustGoAtOnce(lead?.cause ?? null, lead?.causes)) return 'at once';
  return canWaitUntil({ ...row, cause: lead?.cause ?? null }, at ?? '').byAt?.slice(0, 10) ?? '–';
}

function percent(ratio: number | null): string {
  return ratio === null ? '–' : `${(ratio * 100).toFixed(1)} %`;
}

function change(ratio: number | null): string {
  return ratio === null ? '–' : `${ratio >= 0 ? '+' : '−'}${Math.abs(Math.round(ratio * 100))} %`;
}

function minute(iso: string): string {
  return iso.slice(0, 16).replace('T', ' ');
}
