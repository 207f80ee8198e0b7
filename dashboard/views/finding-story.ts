import type { GeneratorDetail } from '../../shared/api.ts';
import type { Cycle, DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import type { Finding, FindingAction, Forecast, LimitName, RankingRow } from '../../shared/finding.ts';
import type { GeneratorRecord } from '../../shared/registry.ts';
import { probabilityOf } from './cause-words.ts';
import { CAUSE_WORDS, CLOSING_WORDS, ENTRY_KIND_WORDS, LIMIT_WORDS, PART_WORDS, sureWords } from './domain-words.ts';
import type { LinePicture, Mark, XY } from './line-picture.ts';
import { changeWords, NBSP } from './number-words.ts';
import { dateWords, timeWords } from './site-time.ts';
import { isPassed } from './wait-words.ts';

const DAY_MS = 86_400_000;
export type TimeSpan = { readonly fromMs: number; readonly toMs: number };

/**
 * The span that a finding's story opens with: four weeks before it began, up to now, and ahead as far as the forecast's 75 %
 * date, but never further ahead than it looks back.
 */
export function storySpan(finding: Finding, forecast: Forecast | undefined, nowMs: number): TimeSpan {
  const onsetMs = Date.parse(finding.onset.earliest ?? finding.onset.likely ?? finding.openedAt);
  const fromMs = Math.floor((onsetMs - 28 * DAY_MS) / DAY_MS) * DAY_MS;
  const endMs = finding.closedAt === null ? nowMs : Math.min(nowMs, Date.parse(finding.closedAt) + 14 * DAY_MS);
  const aheadAt = finding.state === 'closed' ? null : (forecast?.quarterTo ?? forecast?.likely ?? forecast?.earliest ?? null);
  const aheadMs = aheadAt === null ? 0 : Math.max(0, Date.parse(aheadAt) - endMs) * 1.1;
  return { fromMs, toMs: endMs + Math.max(DAY_MS, Math.min(aheadMs, endMs - fromMs)) };
}

/** The forecast that a finding's wait comes from: that of the row's own limit. */
export function leadingForecast(row: RankingRow | null): Forecast | undefined {
  if (row === null || row.serviceBy === null) return undefined;
  const { serviceBy } = row;
  return row.forecasts.find((one) => one.limit === serviceBy.limit) ?? { ...serviceBy, quarterFrom: null, quarterTo: null };
}

/** On which chart a limit stands, and how it is drawn there. */
const CHART_OF: Readonly<Record<LimitName, { readonly id: string; readonly scale: number }>> = { dutyRatio: { id: 'duty-ratio', scale: 100 }, elementDropKPa: { id: 'element-drop', scale: 1 }, nitrogen: { id: 'nitrogen', scale: 100 }, deliveryShare: { id: 'delivery', scale: 1 } };

/** The chart that a limit stands on. */
export function chartOf(limit: LimitName): string {
  return CHART_OF[limit].id;
}

function limitLevel(limit: LimitName, generator: GeneratorRecord, days: readonly DayRow[]): number | undefined {
  if (limit === 'dutyRatio') return generator.limits.dutyRatio;
  if (limit === 'elementDropKPa') return generator.limits.elementDropKPa;
  if (limit === 'nitrogen') return generator.nitrogenLimit;
  // The share is one of what was rated; without a rating the level is known to analysis only.
  return generator.ratedNLPerMin !== undefined && days.at(-1)?.unit === 'NL/min' ? generator.ratedNLPerMin * generator.limits.deliveryShare : undefined;
}

/** Marks that lie on one chart only: limits as lines across, and wedges in which they are met. */
export function limitMarks(chartId: string, params: { readonly row: RankingRow | null; readonly generator: GeneratorRecord; readonly days: readonly DayRow[]; readonly picture: LinePicture; readonly nowMs: number; readonly zone: string }): Mark[] {
  return (Object.keys(CHART_OF) as LimitName[]).flatMap((limit): Mark[] => {
    const { id, scale } = CHART_OF[limit];
    const level = limitLevel(limit, params.generator, params.days);
    if (id !== chartId || level === undefined) return [];
    const y = level * scale;
    const line: Mark = { kind: 'limit', y, says: `limit ${Number(y.toPrecision(3))} ${params.picture.unit}` };
    const forecast = params.row?.forecasts.find((one) => one.limit === limit);
    const newest = params.picture.series[0]?.points.filter((point) => !Number.isNaN(point.y) && point.x <= params.nowMs).at(-1);
    if (forecast?.earliest === undefined || forecast.earliest === null || newest === undefined) return [line];
    const ms = (at: string | null): number | null => (at === null ? null : Date.parse(at));
    return [line, {
      kind: 'forecast', fromMs: newest.x, fromY: recentLevel(params.picture.series[0]?.points ?? [], newest), toY: y, wide: [Date.parse(forecast.earliest), ms(forecast.latest)],
      narrow: forecast.quarterFrom === null ? null : [Date.parse(forecast.quarterFrom), ms(forecast.quarterTo)], likelyMs: ms(forecast.likely), says: forecastSentence(forecast, params.zone, params.nowMs),
    }];
  });
}

/** Mean of the newest three values: one odd day doesn't lift the wedge. */
function recentLevel(points: readonly XY[], newest: XY): number {
  const last = points.filter((point) => !Number.isNaN(point.y) && point.x <= newest.x).slice(-3);
  return last.reduce((sum, point) => sum + point.y, 0) / Math.max(1, last.length);
}

/** When a limit is met, as a sentence with both ranges. */
export function forecastSentence(forecast: Forecast, zone: string, nowMs: number): string {
  const day = (at: string | null): string => (at === null ? 'later than the forecast looks' : dateWords(Date.parse(at), zone, nowMs));
  const limit = `The limit of ${LIMIT_WORDS[forecast.limit]}`;
  const { earliest, quarterFrom, likely, quarterTo, latest } = forecast;
  if (earliest === null) return `${limit} is not in sight`;
  if (isPassed(forecast, nowMs)) return `${limit} is passed`;
  if (likely === null) return `${limit} is met later than the forecast looks, more likely than not; ${quarterFrom === null ? '' : `one chance in four before ${day(quarterFrom)}; `}one in ten before ${day(earliest)}`;
  if (latest !== null && day(earliest) === day(latest)) return `${limit} is met on ${day(likely)}`;
  const half = quarterFrom === null && quarterTo === null ? '' : `; half of the chances between ${day(quarterFrom)} and ${day(quarterTo)}`;
  return `${limit} is met about ${day(likely)}${half}; four in five between ${day(earliest)} and ${day(latest)}`;
}

/** Visits done, visits planned, when it began, when it was found, now: the same on every chart. */
export function storyMarks(finding: Finding, detail: Pick<GeneratorDetail, 'visits'>, plannedMs: readonly number[], zone: string, nowMs: number): Mark[] {
  const likelyMs = Date.parse(finding.onset.likely ?? finding.openedAt);
  return [
    { kind: 'onset', fromMs: finding.onset.earliest === null ? likelyMs : Date.parse(finding.onset.earliest), toMs: finding.onset.latest === null ? likelyMs : Date.parse(finding.onset.latest), says: `start of: ${CAUSE_WORDS[finding.cause].toLowerCase()}` },
    ...detail.visits.map((visit): Mark => ({ kind: 'visit', atMs: Date.parse(visit.startedAt), says: `${ENTRY_KIND_WORDS[visit.kind]} ${dateWords(Date.parse(visit.startedAt), zone)}` })),
    ...plannedMs.map((atMs): Mark => ({ kind: 'visit', atMs, says: `planned visit ${dateWords(atMs, zone)}` })),
    { kind: 'now', atMs: nowMs, says: 'now' },
  ];
}

/** Single cycles: how long each run and the rest after it took. A cycle that a gap cuts breaks both lines. */
export function cyclesPicture(cycles: readonly Cycle[], span: TimeSpan, marks: readonly Mark[]): LinePicture {
  const points = (pick: (cycle: Cycle) => number): XY[] =>
    cycles.flatMap((cycle, index) => {
      const before = cycles[index - 1];
      const gap = cycle.cut || (before !== undefined && cycle.startMs - (before.startMs + (before.runS + before.restS) * 1000) > 600_000);
      const value = pick(cycle) / 60;
      return [...(gap ? [{ x: cycle.startMs - 1, y: Number.NaN }] : []), { x: cycle.startMs, y: cycle.cut || value === 0 ? Number.NaN : value }];
    });
  return {
    id: 'cycles', title: 'Every cycle: run, and rest after it', unit: 'min', ...span, startAtZero: true, leastSpan: 1, aligned: true, marks,
    series: [{ label: 'run', shade: 'strong', stepped: false, points: points((cycle) => cycle.runS) }, { label: 'rest', shade: 'second', stepped: false, points: points((cycle) => cycle.restS) }],
  };
}

/** A rise in run time as its two parts, ln; they add up to the rise. `undefined` where one of them isn't known. */
export type RunTimeParts = { readonly demandLn: number; readonly deliveryLn: number };
export function runTimeParts(row: Pick<RankingRow, 'demandChange' | 'deliveryChange'> | null): RunTimeParts | undefined {
  if (row === null || row.demandChange === null || row.deliveryChange === null || row.demandChange <= -1 || row.deliveryChange <= -1) return undefined;
  return { demandLn: Math.log(1 + row.demandChange), deliveryLn: -Math.log(1 + row.deliveryChange) };
}

/** A part smaller than this share of the whole is no second part. */
const SMALL_PART = 0.05;

/** The split in a sentence: which part the rise comes from, and how much of it. */
export function splitSentence({ demandLn, deliveryLn }: RunTimeParts): string {
  const total = demandLn + deliveryLn;
  const rise = `Run time is ${changeWords(Math.exp(total) - 1)} against its baseline`;
  const both = `demand ${changeWords(Math.exp(demandLn) - 1)}, delivery ${changeWords(Math.exp(-deliveryLn) - 1)}`;
  if (Math.abs(total) < 0.02) return `Run time is as before: ${both}.`;
  const [more, less] = Math.abs(demandLn) > Math.abs(deliveryLn) ? ['demand', deliveryLn] : ['delivery', demandLn];
  if (Math.abs(less) < SMALL_PART * Math.abs(total)) return `${rise}: ${both}. It comes from ${more}.`;
  // Shares mean something only where both parts push the same way.
  if (demandLn * total < -0.0004 || deliveryLn * total < -0.0004) return `${rise}: ${both}; the two work against each other.`;
  const share = Math.round((100 * demandLn) / total);
  return `${rise}: ${both}. ${share}${NBSP}% of it comes from demand, ${100 - share}${NBSP}% from delivery.`;
}

/** How sure analysis is at the end of the list, where that moved since its last line: what moves by less than 5 % gets none. */
export function presentSure(finding: Pick<Finding, 'history' | 'causes' | 'cause' | 'among' | 'state'>): string | undefined {
  const last = finding.history.at(-1);
  const now = sureWords(probabilityOf(finding));
  if (last === undefined || sureWords(last.probability) === now) return undefined;
  return `${finding.state === 'closed' ? 'at the end' : 'now'} ${now}; what moves by less than 5${NBSP}% gets no line of its own`;
}

/** One line of a finding's life: who did what, or what analysis said, when. */
export type LifeLine = { readonly atMs: number; readonly by: string; readonly says: string; readonly note: string | null };

const ACTION_SAYS: Readonly<Record<FindingAction['action'], string>> = { acknowledge: 'acknowledged', shelve: 'shelved', unshelve: 'taken off the shelf', plan: 'a visit is planned', unplan: 'no visit is planned any more', close: 'closed', reopen: 'reopened', note: 'note' };

/** The whole life of a finding, oldest first, with the services since it was found. Nothing of it is ever taken out; a correction is a line of its own. */
export function lifeOf(finding: Finding, actions: readonly FindingAction[], zone: string, visits: readonly Entry[] = []): LifeLine[] {
  const said = finding.history.map((one, index): LifeLine => {
    const cause = one.among === undefined ? CAUSE_WORDS[one.cause] : `one of ${one.among.map((among) => CAUSE_WORDS[among].toLowerCase()).join(', ')}`;
    return { atMs: Date.parse(one.at), by: 'analysis', says: `${index === 0 ? 'found' : 'now says'}: ${cause.toLowerCase()} (${sureWords(one.probability)})`, note: null };
  });
  const opened: LifeLine[] = said.length > 0 && said[0]!.atMs <= Date.parse(finding.openedAt) ? [] : [{ atMs: Date.parse(finding.openedAt), by: 'analysis', says: 'found', note: null }];
  let closedBefore = false;
  const acted = [...actions].sort((a, b) => a.atMs - b.atMs).map((action): LifeLine => {
    const corrects = action.action === 'close' && closedBefore;
    if (action.action === 'close') closedBefore = true;
    if (action.action === 'reopen') closedBefore = false;
    const until = action.untilMs === undefined ? '' : ` until ${timeWords(action.untilMs, zone)}`;
    const reason = action.reason === undefined ? '' : `, ${CLOSING_WORDS[action.reason]}`;
    return { atMs: action.atMs, by: action.by, says: `${corrects ? 'closing corrected' : ACTION_SAYS[action.action]}${until}${reason}`, note: action.note ?? null };
  });
  const byPerson = actions.some((action) => action.action === 'close');
  const closed: LifeLine[] = finding.closedAt !== null && !byPerson ? [{ atMs: Date.parse(finding.closedAt), by: 'analysis', says: `closed${finding.closedReason === null ? '' : `, ${CLOSING_WORDS[finding.closedReason]}`}`, note: null }] : [];
  const endMs = finding.closedAt === null ? Number.POSITIVE_INFINITY : Date.parse(finding.closedAt);
  const served = visits.filter((visit) => visit.kind === 'service').map((visit): LifeLine => {
    const replaced = visit.replaced.length === 0 ? '' : `, replaced: ${visit.replaced.map((part) => PART_WORDS[part]).join(', ')}`;
    return { atMs: Date.parse(visit.finishedAt ?? visit.startedAt), by: visit.by ?? 'somebody', says: `service ended${replaced}`, note: visit.note ?? null };
  });
  const since = served.filter((line) => line.atMs > Date.parse(finding.openedAt) && line.atMs <= endMs);
  return [...opened, ...said, ...acted, ...since, ...closed].sort((a, b) => a.atMs - b.atMs);
}
