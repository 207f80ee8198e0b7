import type { DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import type { Finding, RankingRow } from '../../shared/finding.ts';
import type { IssuedRecord, RecordDocument } from '../../shared/issued-record.ts';
import type { GeneratorRecord, SiteRecord } from '../../shared/registry.ts';
import type { Verification } from '../../shared/review.ts';
import { causeInWords, leakSide, probabilityOf } from './cause-words.ts';
import { daysCharts } from './days-chart.ts';
import { CLOSING_WORDS, ENTRY_KIND_WORDS, PART_WORDS, sureWords } from './domain-words.ts';
import { linePictureSvg } from './line-picture-svg.ts';
import { type Matched, matchedFigures, type MatchedFigures } from './matched-figures.ts';
import { changeWords, group, NBSP, percentWords } from './number-words.ts';
import { csvCell } from './service-list-csv.ts';
import { sheet, table, text } from './sheet-frame.ts';
import { dateWords } from './site-time.ts';
import { CARE_ALWAYS } from './words-of-care.ts';

export type ReportGenerator = { readonly generator: GeneratorRecord; readonly row: RankingRow | null; /** In order of time, from 28 days before the span. */ readonly days: readonly DayRow[]; readonly entries: readonly Entry[]; readonly findings: readonly Finding[]; /** Analysis' looks back at visits. */ readonly looks: readonly Verification[] };
export type OwnerReport = { readonly record: IssuedRecord; readonly site: SiteRecord; readonly fromMs: number; readonly toMs: number; readonly generators: readonly ReportGenerator[]; readonly simulated: boolean };

const CHART = { widthPx: 330, heightPx: 110 };

type Compared = { readonly visit: Entry; readonly figures: ReturnType<typeof matchedFigures> };

/** What an owner is told about a span of time: how each generator ran, what was found, what was done, and whether it helped. */
export function ownerReport(params: OwnerReport): RecordDocument {
  const { site, record } = params;
  const zone = site.timeZone;
  const compared = new Map(params.generators.map((one) => [one.generator.id, comparedVisits(one, params)]));
  const body = [
    `<p class="lead">${text(site.name ?? site.id)}, ${text(dateWords(params.fromMs, zone))} to ${text(dateWords(params.toMs - 1, zone))}. Duty ratio is the share of the time in which the compressor runs: the less, the better it rests.</p>`,
    ...params.generators.map((one) => generatorPart(one, params, compared.get(one.generator.id) ?? [])),
    [...compared.values()].every((visits) => visits.length === 0) ? '' : `<p class="how">Figures before and after a visit compare like with like: the same hours of the day and, where it was sent, a room temperature within 5 K, in the four weeks on each side, other services left out. In brackets: the range of two standard errors.</p>`,
  ].join('\n');
  return { html: sheet(record, { simulated: params.simulated, zone, body, care: CARE_ALWAYS }), csv: figuresCsv(params, compared) };
}

function comparedVisits(one: ReportGenerator, { fromMs, toMs }: OwnerReport): readonly Compared[] {
  const end = (entry: Entry): number => Date.parse(entry.finishedAt ?? entry.startedAt);
  const services = one.entries.filter((entry) => entry.kind === 'service').sort((a, b) => end(a) - end(b));
  return services.flatMap((visit, index) => {
    if (end(visit) < fromMs || end(visit) >= toMs) return [];
    const [last, next] = [services[index - 1], services[index + 1]];
    return [{ visit, figures: matchedFigures(one.days, { startMs: Date.parse(visit.startedAt), endMs: end(visit) }, { ...(last !== undefined && { fromMs: end(last) }), ...(next !== undefined && { toMs: Date.parse(next.startedAt) }) }) }];
  });
}

function generatorPart(one: ReportGenerator, params: OwnerReport, compared: readonly Compared[]): string {
  const { site, fromMs, toMs } = params;
  const zone = site.timeZone;
  const within = one.days.filter((day) => day.startMs >= fromMs && day.startMs < toMs);
  const entries = one.entries.filter((entry) => Date.parse(entry.startedAt) >= fromMs && Date.parse(entry.startedAt) < toMs);
  const found = one.findings.filter((finding) => Date.parse(finding.openedAt) < toMs && (finding.closedAt === null || Date.parse(finding.closedAt) >= fromMs));
  const charts = daysCharts(within, entries.map((entry) => ({ kind: 'visit' as const, atMs: Date.parse(entry.startedAt), says: ENTRY_KIND_WORDS[entry.kind] }))).filter((picture) => ['duty-ratio', 'element-drop', 'nitrogen'].includes(picture.id)).slice(0, 2);
  return `<section><h2>${text(one.generator.name ?? one.generator.id)}</h2>
<p>${text(summaryOf(one, zone, within))}</p>
<div class="charts">${charts.map((picture) => `<figure><figcaption>${text(picture.title)}, ${text(picture.unit)}</figcaption>${linePictureSvg(picture, CHART, zone)}</figure>`).join('')}</div>
${entries.length === 0 ? '' : '<p class="how">Dashed across a picture: what was done, by the list below.</p>'}
${entries.length === 0 ? '<p>No visit and no test of this time is on record.</p>' : ''}
${table('What was done', ['When', 'What', 'Replaced', 'By'], entries.map((entry) => [unbroken(dateWords(Date.parse(entry.startedAt), zone)), ENTRY_KIND_WORDS[entry.kind], entry.replaced.map((part) => PART_WORDS[part]).join(', ') || null, entry.by ?? null]))}
${table('Second looks at the visits', ['Visit', 'Looked at', 'Did it help?', 'What was seen'], lookRows(one, params, zone))}
${compared.map(({ visit, figures }) => comparedPart(visit, figures, zone)).join('\n')}
${found.length === 0 ? '<p>Nothing was found in this time; that is no proof of order.</p>' : ''}
${table('What was found', ['Since', 'What', 'How sure', 'How it stands'], found.map((finding) => [unbroken(dateWords(Date.parse(finding.onset.likely ?? finding.openedAt), zone)), causeInWords(finding.cause, finding.among, leakSide(finding.evidence)), sureWords(probabilityOf(finding)), standsWords(finding, zone)]))}
</section>`;
}

/** How a finding stands, for somebody who doesn't know the desk's words. */
const STANDS = { new: 'open', acknowledged: 'open, somebody sees to it', planned: 'open, a visit is planned', verifying: 'the work is done and being checked' } as const;

function standsWords(finding: Finding, zone: string): string {
  if (finding.state !== 'closed') return STANDS[finding.state];
  return `closed${finding.closedAt === null ? '' : ` ${dateWords(Date.parse(finding.closedAt), zone)}`}${finding.closedReason === null ? '' : `: ${CLOSING_WORDS[finding.closedReason]}`}`;
}

/** A date in a narrow column stays on one line. */
function unbroken(date: string): string {
  return date.replaceAll(' ', NBSP);
}

const LOOK_ORDER: readonly Verification['look'][] = ['4 h', '24 h', 'days'];

/** What analysis saw 4 h, 24 h and some days after each visit of the span, in that order. */
function lookRows({ looks }: ReportGenerator, { fromMs, toMs }: OwnerReport, zone: string): (string | null)[][] {
  const within = looks.filter((look) => look.visitedAtMs >= fromMs && look.visitedAtMs < toMs);
  const ordered = within.toSorted((a, b) => a.visitedAtMs - b.visitedAtMs || LOOK_ORDER.indexOf(a.look) - LOOK_ORDER.indexOf(b.look));
  return ordered.map((look) => [unbroken(dateWords(look.visitedAtMs, zone)), `${look.look === 'days' ? 'days' : look.look.replace(' ', NBSP)}${NBSP}after, ${unbroken(dateWords(look.atMs, zone))}`, look.verdict, look.says.join(' ') || null]);
}

function summaryOf(one: ReportGenerator, zone: string, days: readonly DayRow[]): string {
  const coveredS = days.reduce((sum, day) => sum + day.coveredS, 0);
  const runS = days.reduce((sum, day) => sum + day.runS, 0);
  if (coveredS === 0) return 'Nothing was heard of it in this time.';
  const hours = runS / 3600;
  const energy = one.generator.compressorKW === undefined ? '' : `, about ${group(hours * one.generator.compressorKW)}${NBSP}kWh at its rated ${one.generator.compressorKW}${NBSP}kW`;
  return `Heard on ${days.filter((day) => day.coveredS > 0).length} days. It ran ${group(hours)}${NBSP}h of ${group(coveredS / 3600)}${NBSP}h heard: duty ratio ${percentWords(runS / coveredS)}${energy}.${one.row?.dueBy === null || one.row === null ? '' : ` Next service due by days or running hours: ${dateWords(Date.parse(one.row.dueBy), zone)}.`}`;
}

function comparedPart(visit: Entry, figures: Compared['figures'], zone: string): string {
  const name = `Before and after the service of ${dateWords(Date.parse(visit.startedAt), zone)}`;
  if ('tooFew' in figures) return `<p><strong>${text(name)}:</strong> not enough to compare: ${text(figures.tooFew)}.</p>`;
  const rows = figureRows(figures).map((row) => [row.name, row.words(row.before), row.words(row.after), row.change === null ? null : `${changeWords(row.change.change)} (${signedPercent(row.change.low)} to ${signedPercent(row.change.high)})`]);
  return `${table(name, ['', 'Before', 'After', 'Change'], rows)}<p class="how">${figures.hoursMatched} hours of ${figures.daysAfter} days after, against ${figures.daysBefore} days before; room temperature ${text(figures.temperature)}.</p>`;
}

/** A bound of a range: unlike a change, it is a number even where it is none. */
function signedPercent(change: number): string {
  return Math.round(change * 100) === 0 ? `0${NBSP}%` : changeWords(change);
}

type FigureRow = { readonly name: string; readonly unit: string; readonly before: number; readonly after: number; readonly change: Matched | null; readonly words: (value: number) => string };

function figureRows(figures: MatchedFigures): FigureRow[] {
  const unit = figures.unit === 'relative' ? '(relative)' : figures.unit;
  const flow = (value: number): string => `${Number(value.toPrecision(3))} ${unit}`;
  const matched = (name: string, one: Matched | null, unitWords: string, words: (value: number) => string): FigureRow[] => (one === null ? [] : [{ name, unit: unitWords, before: one.before, after: one.after, change: one, words }]);
  return [
    ...matched('Duty ratio', figures.dutyRatio, 'ratio', percentWords), ...matched('Demand', figures.demand, unit, flow), ...matched('Delivery', figures.delivery, unit, flow),
    ...(figures.elementDropKPa === null ? [] : [{ name: 'Drop over elements', unit: 'kPa', ...figures.elementDropKPa, change: null, words: (value: number) => `${value.toFixed(0)} kPa` }]),
    ...(figures.nitrogenPercent === null ? [] : [{ name: 'Nitrogen', unit: '%', ...figures.nitrogenPercent, change: null, words: (value: number) => `${value.toFixed(1)} %` }]),
  ];
}

function figuresCsv({ record, site }: OwnerReport, compared: ReadonlyMap<string, readonly Compared[]>): string {
  const head = ['record', 'revision', 'site', 'generator', 'service', 'figure', 'before', 'after', 'change', 'low', 'high', 'unit', 'hours matched', 'room temperature'];
  const rows = [...compared].flatMap(([generator, visits]) =>
    visits.flatMap(({ visit, figures }) => ('tooFew' in figures ? [] : figureRows(figures).map((row) => [record.number, record.revision, site.id, generator, visit.startedAt, row.name, row.before, row.after, row.change?.change ?? null, row.change?.low ?? null, row.change?.high ?? null, row.unit, figures.hoursMatched, figures.temperature]))),
  );
  return [head, ...rows].map((cells) => `${cells.map(csvCell).join(',')}\r\n`).join('');
}
