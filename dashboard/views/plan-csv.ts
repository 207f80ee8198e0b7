import type { PlanAnswer, PlanTrip } from '../../shared/plan.ts';
import { csvCell } from './service-list-csv.ts';

type Cell = string | number | null;

const COLUMNS: readonly (readonly [header: string, cell: (trip: PlanTrip) => Cell])[] = [
  ['day', (trip) => trip.day],
  ['time', (trip) => trip.visit?.plannedTime ?? null],
  ['timeZone', (trip) => trip.timeZone],
  ['state', (trip) => trip.visit?.state ?? 'proposed'],
  ['technician', (trip) => trip.technician],
  ['site', (trip) => trip.site],
  ['siteName', (trip) => trip.siteName],
  ['area', (trip) => trip.area],
  ['access', (trip) => trip.access],
  ['generators', (trip) => trip.generators.join(' ')],
  ['why', (trip) => trip.needs.map((need) => `${need.generator}: ${need.causeSays}`).join('; ')],
  ['canWaitUntil', (trip) => trip.byDay],
  ['hours', (trip) => trip.hours],
  ['bring', (trip) => trip.bring.join('; ')],
  ['withTest', (trip) => trip.withTest],
  ['note', (trip) => trip.visit?.note ?? null],
];

/** The plan as CSV, by day: what stands and what is proposed, then what found no day. */
export function planCsv(plan: Pick<PlanAnswer, 'trips' | 'left'>): string {
  const lines = [...plan.trips, ...plan.left.map((one) => one.trip)].map((trip) => COLUMNS.map(([, cell]) => csvCell(cell(trip))));
  return [COLUMNS.map(([header]) => csvCell(header)), ...lines].map((cells) => `${cells.join(',')}\r\n`).join('');
}
