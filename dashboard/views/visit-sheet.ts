import type { GeneratorRecord, SiteRecord } from '../../shared/registry.ts';
import type { DayRow } from '../../shared/cycle.ts';
import type { Finding } from '../../shared/finding.ts';
import type { IssuedRecord, RecordDocument, VisitPhoto } from '../../shared/issued-record.ts';
import type { Visit } from '../../shared/visit.ts';
import { causeInWords, leakSide, probabilityOf } from './cause-words.ts';
import { daysCharts } from './days-chart.ts';
import { PART_WORDS, sureWords } from './domain-words.ts';
import { linePictureSvg } from './line-picture-svg.ts';
import { normalHere, type NormalHere } from './normal-here.ts';
import { csvCell } from './service-list-csv.ts';
import { facts, sheet, table, text } from './sheet-frame.ts';
import { clockWords, dateWords, timeWords } from './site-time.ts';
import { readingOf } from './visit-readings.ts';
import { stepsOf } from './visit-steps.ts';
import { CARE_ALWAYS, CARE_VISIT } from './words-of-care.ts';

export type SheetGenerator = { readonly generator: GeneratorRecord; readonly findings: readonly Finding[]; /** Days up to the visit, in order of time. */ readonly days: readonly DayRow[]; readonly photos: readonly VisitPhoto[] };
export type VisitSheet = { readonly record: IssuedRecord; readonly site: SiteRecord; readonly visit: Visit; readonly generators: readonly SheetGenerator[]; readonly simulated: boolean };

/** Photos on a sheet: more would take it beyond two pages. */
const MOST_PHOTOS = 3;
const CHART = { widthPx: 330, heightPx: 110 };
const TOLD = { 'impairment-coordinator': "Owner's impairment coordinator", 'supervising-station': 'Supervising station' } as const;

/** What was found, done and left at a visit, on one or two pages, and the same figures for a spreadsheet. */
export function visitSheet(params: VisitSheet): RecordDocument {
  const { record, site, visit, simulated } = params;
  const zone = site.timeZone;
  const at = (iso: string | null | undefined): string | null => (iso === null || iso === undefined ? null : timeWords(Date.parse(iso), zone));
  const started = Object.values(visit.work)[0]?.startedAt;
  const body = [
    facts([
      ['Site', site.name ?? site.id], ['Address', site.address ?? (site.area === undefined ? 'not in the registry' : `not in the registry; area: ${site.area}`)], ['Technician', visit.signed?.by ?? visit.technician], ['Began', at(started)], ['Performed', at(visit.performedAt)], ['Recorded', at(visit.recordedAt)],
      ['What it was', visit.procedure === 'service' ? 'service' : 'find the leak'], ['Visit', `${visit.id}, revision ${visit.revision}`],
    ]),
    table('Who was told', ['Who', 'Before anything was closed', 'Back to normal'], (Object.keys(TOLD) as (keyof typeof TOLD)[]).map((who) => [TOLD[who], toldWords(visit, who, 'before', zone), toldWords(visit, who, 'back-to-normal', zone)])),
    ...params.generators.map((one) => generatorPart(params, one)),
    `<p class="signed">Signed: <strong>${text(visit.signed?.by ?? 'not signed')}</strong>${visit.signed === null ? '' : `, ${text(at(visit.signed.at) ?? '')}`}</p>`,
  ].join('\n');
  return { html: sheet(record, { simulated, zone, body, care: [...CARE_ALWAYS, ...CARE_VISIT] }), csv: figuresCsv(params) };
}

function toldWords(visit: Visit, who: string, what: string, zone: string): string | null {
  const told = visit.told.find((one) => one.who === who && one.what === what);
  return told === undefined ? 'not noted' : `${told.name}, ${momentWords(told.at, visit, zone)}`;
}

/** The clock alone on the day on which the visit began, which stands at the top; else with the date. */
function momentWords(at: string, visit: Visit, zone: string): string {
  const startedAt = Object.values(visit.work)[0]?.startedAt ?? visit.performedAt;
  const ms = Date.parse(at);
  return startedAt !== null && dateWords(Date.parse(startedAt), zone) === dateWords(ms, zone) ? clockWords(ms, zone) : timeWords(ms, zone);
}

function generatorPart({ visit, site }: VisitSheet, one: SheetGenerator): string {
  const { generator, days } = one;
  const work = visit.work[generator.id];
  const normal = normalHere(days);
  const finding = one.findings[0];
  const steps = stepsOf(visit.procedure).filter((step) => step.part !== 'looks');
  const done = steps.map((step): string => `${step.title} ${work?.steps[step.id] === undefined ? '(not ticked)' : momentWords(work.steps[step.id]!.doneAt, visit, site.timeZone)}`);
  const startMs = Date.parse(work?.startedAt ?? visit.performedAt ?? visit.updatedAt);
  const charts = daysCharts(days.filter((day) => day.startMs > startMs - 60 * 86_400_000), [{ kind: 'visit', atMs: startMs, says: 'visit' }]).filter((picture) => ['duty-ratio', 'element-drop', 'demand', 'delivery'].includes(picture.id)).slice(0, 4);
  return `<section><h2>${text(generator.name ?? generator.id)}</h2>
${facts([
    ['Expected before', finding === undefined ? 'nothing found; no proof of order' : `${causeInWords(finding.cause, finding.among, leakSide(finding.evidence))} (${sureWords(probabilityOf(finding))})`],
    ['Replaced', (work?.replaced ?? []).length === 0 ? 'nothing' : (work?.replaced ?? []).map((part) => PART_WORDS[part]).join(', ')], ['Note', work?.note],
  ])}
${table('Readings', ['', 'Normal here', 'As found', 'As left'], readingRows(work, normal))}
${table('Valves', ['Valve', 'Normally', 'Found', 'Left'], valveRows(generator, work))}
<p class="steps"><strong>Steps:</strong> ${text(done.join('; '))}.</p>
${charts.length === 0 ? '' : '<p class="how">Days up to the visit; it is dashed across.</p>'}
<div class="charts">${charts.map((picture) => `<figure><figcaption>${text(picture.title)}, ${text(picture.unit)}</figcaption>${linePictureSvg(picture, CHART, site.timeZone)}</figure>`).join('')}</div>
${one.photos.length === 0 ? '' : `<div class="photos">${one.photos.slice(0, MOST_PHOTOS).map((photo) => `<figure><img src="data:image/jpeg;base64,${text(photo.jpegBase64)}" alt="Photo ${text(photo.says)}"><figcaption>${text(photo.says)}, ${text(momentWords(photo.at, visit, site.timeZone))}</figcaption></figure>`).join('')}</div>`}
</section>`;
}

type Work = Visit['work'][string] | undefined;
const NORMAL: Readonly<Record<string, (normal: NormalHere) => number | null>> = {
  systemPressureKPa: (normal) => normal.systemKPa, elementDropKPa: (normal) => normal.elementDropKPa, nitrogenPercent: (normal) => normal.nitrogenPercent, cutInKPa: (normal) => normal.cutInKPa, cutOutKPa: (normal) => normal.cutOutKPa,
};

function readingRows(work: Work, normal: NormalHere): (string | null)[][] {
  const names = [...new Set([...Object.keys(work?.asFound ?? {}), ...Object.keys(work?.asLeft ?? {})])];
  return names.map((name) => {
    const known = readingOf(name) ?? { words: name, unit: '' };
    const words = (value: number | null | undefined): string | null => (value === null || value === undefined ? null : `${Number(value.toPrecision(4))}\u00a0${known.unit}`.trim());
    return [known.words, words(NORMAL[name.split('.')[0] ?? '']?.(normal)), words(work?.asFound[name]), words(work?.asLeft[name])];
  });
}

function valveRows(generator: GeneratorRecord, work: Work): (string | null)[][] {
  const normalOf = new Map(generator.valves.map((valve) => [valve.name, valve.normal]));
  const names = [...new Set([...normalOf.keys(), ...Object.keys(work?.valves ?? {})])];
  return names.map((name) => {
    const at = work?.valves[name];
    const stood = (position: 'open' | 'shut' | null | undefined): string => (position === null || position === undefined ? 'not looked at' : normalOf.has(name) && position !== normalOf.get(name) ? `${position}, not as normal` : position);
    return [name, normalOf.get(name) ?? 'not in the registry', stood(at?.found), stood(at?.left)];
  });
}

function figuresCsv({ visit, record }: VisitSheet): string {
  const head = ['record', 'revision', 'visit', 'site', 'generator', 'reading', 'as found', 'as left', 'unit'];
  const rows = Object.entries(visit.work).flatMap(([generator, work]) =>
    [...new Set([...Object.keys(work.asFound), ...Object.keys(work.asLeft)])].map((name) => [record.number, record.revision, visit.id, visit.site, generator, readingOf(name)?.words ?? name, work.asFound[name] ?? null, work.asLeft[name] ?? null, readingOf(name)?.unit ?? null]),
  );
  return [head, ...rows].map((cells) => `${cells.map(csvCell).join(',')}\r\n`).join('');
}
