import type { ServiceListRow } from '../../shared/api.ts';
import type { Cause, Finding, RankingRow } from '../../shared/finding.ts';
import type { PlanNeed, Trade } from '../../shared/plan.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { dayAt } from './calendar-days.ts';

/** Hours on site for a cause, the round before and after included; common practice, no source. */
const HOURS: Readonly<Record<Cause, number>> = {
  leak: 3, 'bleed-left-open': 1, 'supply-bypassed': 1, 'valve-left-shut': 1, 'check-valve-leaking': 2, 'element-loading': 2, 'element-missing': 2, 'drain-stuck-open': 1.5, 'drain-stuck-closed': 1.5,
  'compressor-side': 4, 'membrane-decline': 4, 'not-starting': 2, 'stops-short': 2, 'runs-without-end': 3, 'sensor-fault': 1.5, 'set-point-changed': 1, 'no-power': 1, 'data-gap': 1.5, undetermined: 3,
};
/** A service by the calendar or the hour meter. */
const SERVICE_HOURS = 2;
/** What a service adds where somebody is there for a cause anyway. */
const SERVICE_BESIDE_HOURS = 1;
/** A service that falls due so soon after is done with the cause. */
const DUE_BESIDE_DAYS = 60;

const DAY_MS = 86_400_000;

/** What somebody must do at one generator, from the line of the service list and what analysis wrote. */
export function planNeed(params: { readonly line: ServiceListRow; readonly row: RankingRow; readonly registered: RegisteredGenerator; readonly findings: readonly Finding[]; readonly nowMs: number }): PlanNeed {
  const { line, row, registered, nowMs } = params;
  const zone = registered.site.timeZone;
  const open = params.findings.filter((finding) => finding.state !== 'closed');
  const lead = open.find((finding) => finding.cause === line.cause) ?? open[0];
  const silent = lead !== undefined && lead.cause === line.cause && (lead.cause === 'data-gap' || (lead.among?.includes('data-gap') ?? false));
  const awake = open.filter((finding) => finding.shelvedUntil === null || finding === lead);
  const dueSoon = line.dueAt !== null && Date.parse(line.dueAt) - nowMs < DUE_BESIDE_DAYS * DAY_MS;
  const atOnce = line.byBecause === 'condition' && line.byQuantile === null;
  return {
    site: line.site, siteName: line.siteName, area: line.area, access: line.access, timeZone: zone, generator: line.generator, generatorName: registered.generator.name ?? registered.generator.id,
    findings: lead === undefined ? [] : [lead.id, ...awake.filter((one) => one !== lead).map((one) => one.id)],
    cause: line.cause, causeSays: line.causeSays, state: lead?.state ?? null, servedAt: line.servedAt, shelvedUntil: lead?.shelvedUntil ?? null,
    trade: tradeOf(line, silent), whoMustGo: line.whoMustGo,
    hours: line.cause === null ? SERVICE_HOURS : HOURS[silent ? 'data-gap' : line.cause] + (dueSoon ? SERVICE_BESIDE_HOURS : 0),
    bring: line.cause !== null && dueSoon ? [...new Set([...line.bring, ...SERVICE_PARTS])] : line.bring,
    atOnce,
    byDay: line.byAt === null ? null : dayAt(Date.parse(line.byAt), zone),
    byBecause: line.byBecause, limit: line.limit,
    dueDay: line.dueAt === null ? null : dayAt(Date.parse(line.dueAt), zone),
    forecast: row.forecasts.find((one) => one.limit === line.limit) ?? (row.serviceBy === null ? null : { ...row.serviceBy, quarterFrom: null, quarterTo: null }),
  };
}

/** What every service takes along, by position of the element. */
const SERVICE_PARTS = ['intake element', 'particulate element', 'coalescing element', 'carbon element', 'o-rings for the bowls'];

/** Who must go, as the line says it in words. */
function tradeOf(line: ServiceListRow, silent: boolean): Trade {
  if (line.whoMustGo.startsWith('licensed sprinkler fitter')) return 'sprinkler-fitter';
  return line.cause === 'sensor-fault' || silent ? 'instrument-person' : 'generator-technician';
}
