import type { HandOver, HandOverLine } from '../../shared/api.ts';
import type { DataState, Finding, FindingAction, RankingRow } from '../../shared/finding.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import type { Visit } from '../../shared/visit.ts';
import { CLOSING_WORDS, DATA_STATE_WORDS, FINDING_STATE_WORDS } from './domain-words.ts';
import { isBeingChecked, servedSince } from './being-checked.ts';
import { causeSentence } from './finding-sentences.ts';
import { heldBy, stateWithoutRow } from './overview-rows.ts';
import { hoursWords, VISIT_STATE_WORDS } from './plan-words.ts';
import { dateWords, timeWords, weekdayWords } from './site-time.ts';
import { waitWords } from './wait-words.ts';

/** A generator with what analysis says of it and when it was last heard. */
export type HandOverGenerator = { readonly registered: RegisteredGenerator; readonly row: RankingRow | null; readonly lastHeardMs: number | null; /** When its last service ended. */ readonly servedAt: string | null };

/** A shift looks after sites of many zones, so times are those of UTC; the day until which a generator can wait is its site's, as everywhere. */
const ZONE = 'UTC';
/** As the line above the Overview counts: without power a gateway may still be heard. */
const UNHEARD: ReadonlySet<string> = new Set(['not-reporting', 'out-of-service']);
const SILENT: ReadonlySet<string> = new Set(['not-reporting', 'no-power', 'partly-reporting']);
const ACTION_SAYS: Readonly<Record<FindingAction['action'], string>> = { acknowledge: 'acknowledged', shelve: 'shelved', unshelve: 'taken off the shelf', plan: 'visit planned', unplan: 'visit no longer planned', close: 'closed', reopen: 'reopened', note: 'note' };

/**
 * What the next shift must know: what is new and what changed since `fromMs`, what waits for somebody, what is shelved and until
 * when, which visits are under way or next, what does not report. `findings` have people's actions laid over them; open and
 * lately closed ones. `actions` of the span in order of time.
 */
export function handOver(params: { readonly generators: readonly HandOverGenerator[]; readonly findings: readonly Finding[]; readonly actions: readonly FindingAction[]; readonly actionsOf: (finding: string) => readonly FindingAction[]; readonly visits: readonly Visit[]; readonly fromMs: number; readonly nowMs: number }): HandOver {
  const { generators, findings, fromMs, nowMs } = params;
  const known = new Map(generators.map((one) => [`${one.registered.site.id}/${one.registered.generator.id}`, one]));
  const byId = new Map(findings.map((finding) => [finding.id, finding]));
  const line = (site: string, generator: string, more: Partial<HandOverLine> & { readonly says: string }): HandOverLine => {
    const registered = known.get(`${site}/${generator}`)?.registered;
    return { site, siteName: registered?.site.name ?? site, generator, generatorName: registered?.generator.name ?? generator, finding: null, at: null, by: null, note: null, ...more };
  };
  const of = (finding: Finding, says: string, more: Partial<HandOverLine> = {}): HandOverLine => line(finding.site, finding.generator, { finding: finding.id, says, ...more });
  const rankOf = (finding: Finding): number => known.get(`${finding.site}/${finding.generator}`)?.row?.rank ?? Number.MAX_SAFE_INTEGER;
  const open = findings.filter((finding) => finding.state !== 'closed').sort((a, b) => rankOf(a) - rankOf(b));
  const waits = (finding: Finding): string => {
    const one = known.get(`${finding.site}/${finding.generator}`);
    if (one === undefined || one.row === null) return '';
    const { row } = one;
    const zone = one.registered.site.timeZone;
    return `; ${waitWords({ ...row, cause: finding.cause, causes: finding.causes, state: finding.state, servedAt: servedSince(finding, one.servedAt) }, isBeingChecked(finding) ? ZONE : zone, nowMs).says}`;
  };
  const fresh = open.filter((finding) => Date.parse(finding.openedAt) >= fromMs);
  return {
    fromAt: new Date(fromMs).toISOString(), toAt: new Date(nowMs).toISOString(), generators: generators.length, reporting: generators.filter((one) => !UNHEARD.has(stateOf(one))).length,
    fresh: fresh.map((finding) => of(finding, `${causeSentence(finding)}${waits(finding)}; ${FINDING_STATE_WORDS[finding.state]}`, { at: finding.openedAt, by: heldBy(params.actionsOf(finding.id)) })),
    changed: [...params.actions.map((action) => changedBy(action, byId.get(action.finding), of)), ...closedByAnalysis(findings, params).map((finding) => of(finding, `${causeSentence(finding)}: closed by analysis${finding.closedReason === null ? '' : `, ${CLOSING_WORDS[finding.closedReason]}`}`, { at: finding.closedAt }))].flatMap((one) => one ?? []).sort((a, b) => (a.at ?? '').localeCompare(b.at ?? '')),
    waiting: open.filter((finding) => finding.shelvedUntil === null && (finding.state === 'new' || finding.state === 'acknowledged') && !fresh.includes(finding)).map((finding) => of(finding, `${causeSentence(finding)}${waits(finding)}; ${FINDING_STATE_WORDS[finding.state]}`, { at: finding.openedAt, by: heldBy(params.actionsOf(finding.id)) })),
    shelved: open.filter((finding) => finding.shelvedUntil !== null).map((finding) => {
      const shelving = params.actionsOf(finding.id).filter((one) => one.action === 'shelve').at(-1);
      return of(finding, `${causeSentence(finding)}; shelved until ${timeWords(Date.parse(finding.shelvedUntil!), ZONE)}`, { at: finding.shelvedUntil, by: shelving?.by ?? null, note: shelving?.note ?? null });
    }),
    checked: open.filter((finding) => finding.shelvedUntil === null && isBeingChecked(finding) && !fresh.includes(finding)).map((finding) => of(finding, `${causeSentence(finding)}${waits(finding)}`, { at: finding.openedAt, by: heldBy(params.actionsOf(finding.id)) })),
    silent: generators.filter((one) => SILENT.has(stateOf(one))).map((one) => line(one.registered.site.id, one.registered.generator.id, { says: `${one.row === null ? 'not analysed yet' : DATA_STATE_WORDS[one.row.dataState]}; ${one.lastHeardMs === null ? 'never heard' : `last heard ${dateWords(one.lastHeardMs, ZONE, nowMs)}, ${timeWords(one.lastHeardMs, ZONE).split(', ')[1]}`}`, at: one.lastHeardMs === null ? null : new Date(one.lastHeardMs).toISOString() })),
    visits: params.visits.map((visit) => line(visit.site, visit.generators[0] ?? '', { says: `visit ${VISIT_STATE_WORDS[visit.state]}${visit.plannedFor === null ? '' : ` for ${weekdayWords(visit.plannedFor)}${visit.plannedTime === null ? '' : `, ${visit.plannedTime}`}`}, ${hoursWords(visit.hours)}`, by: visit.technician, note: visit.note === '' ? null : visit.note })),
  };
}

/** What analysis has not looked at yet and was heard is being learned, as the Overview counts it. */
function stateOf(one: HandOverGenerator): DataState {
  return one.row?.dataState ?? stateWithoutRow(one.registered, one.lastHeardMs !== null);
}

function changedBy(action: FindingAction, finding: Finding | undefined, of: (finding: Finding, says: string, more?: Partial<HandOverLine>) => HandOverLine): HandOverLine | undefined {
  if (finding === undefined) return undefined;
  const until = action.untilMs === undefined ? '' : ` until ${timeWords(action.untilMs, ZONE)}`;
  const reason = action.reason === undefined ? '' : `, ${CLOSING_WORDS[action.reason]}`;
  return of(finding, `${causeSentence(finding)}: ${ACTION_SAYS[action.action]}${until}${reason}`, { at: new Date(action.atMs).toISOString(), by: action.by, note: action.note ?? null });
}

function closedByAnalysis(findings: readonly Finding[], { fromMs, actionsOf }: { readonly fromMs: number; readonly actionsOf: (finding: string) => readonly FindingAction[] }): Finding[] {
  return findings.filter((finding) => finding.state === 'closed' && finding.closedAt !== null && Date.parse(finding.closedAt) >= fromMs && !actionsOf(finding.id).some((one) => one.action === 'close'));
}
