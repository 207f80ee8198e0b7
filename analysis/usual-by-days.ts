import type { DayRow } from '../shared/cycle.ts';
import type { RegisteredGenerator } from '../shared/registry.ts';
import type { DaysJudged } from './causes/assess.ts';
import type { Normal } from './causes/clock-view.ts';
import { type LeftOut, timesWithin } from './causes/left-out.ts';
import { quantile } from './change/robust.ts';
import { litresNPerKPa } from './cycles/tank-content.ts';

/** What closed days say of how a tank is drawn from and how long runs and rests are: what the faults of the clock are held against. */
export type UsualByDays = Pick<Normal, 'fallKPaPerMin' | 'quietShare' | 'baselineRestS' | 'usualDayRestS' | 'countedRunS'>;
type Known = { readonly registered: RegisteredGenerator; readonly judged: DaysJudged | undefined; /** When the piping was fed by something else or by nothing: no day of it says what is usual. */ readonly unfed: readonly LeftOut[] };

const NOTHING_USUAL: UsualByDays = { fallKPaPerMin: null, quietShare: null, baselineRestS: 0, usualDayRestS: 0, countedRunS: null };
/** Worked out once for the days and times that are known. */
const kept = new WeakMap<DaysJudged, { readonly times: string; readonly usual: UsualByDays }>();

export function usualByDays({ registered, judged, unfed }: Known): UsualByDays {
  if (judged === undefined) return NOTHING_USUAL;
  const times = unfed.map(({ fromMs, toMs }) => `${fromMs} ${toMs}`).join();
  const before = kept.get(judged);
  if (before !== undefined && before.times === times) return before.usual;
  const fed = judged.rows.filter((row) => timesWithin(row, unfed).length === 0);
  const usual = { ...usualFall(fed, judged, registered), ...restsOfBaseline(fed, judged), countedRunS: countedRunS(judged.rows) };
  kept.set(judged, { times, usual });
  return usual;
}

/** What is usual is taken from so many days before the last service, and the quietest tenth of their quarters, so that a leak that a visit mended is not, nor what a visit shut. */
const FALL_DAYS = 60;
const LEAST_FALL_DAYS = 7;
const QUIETEST = 0.1;
/** Bursts of three days of four are no larger. */
const BURST_DAYS = 0.75;

/** How fast the tank falls at rest at least, and how much of that is quiet; null where demand isn't known in gas. */
function usualFall(fed: readonly DayRow[], { entries }: DaysJudged, { generator: { tankLitres } }: RegisteredGenerator): Pick<Normal, 'fallKPaPerMin' | 'quietShare'> {
  const perKPa = tankLitres === undefined ? 1 : litresNPerKPa(tankLitres);
  const service = entries.findLast((entry) => entry.kind === 'service');
  const before = service === undefined ? [] : fed.filter((row) => row.endMs <= Date.parse(service.startedAt));
  const rows = (before.length < LEAST_FALL_DAYS ? fed : before).slice(-FALL_DAYS);
  const demands = rows.flatMap((row) => (row.quarters ?? []).flatMap((quarter) => (quarter.unit === 'relative' || quarter.demand[0] === null ? [] : [Math.exp(quarter.demand[0]) / perKPa])));
  const burst = quantile(rows.flatMap((row) => row.burstShare ?? []), BURST_DAYS);
  return { fallKPaPerMin: quantile(demands, QUIETEST) ?? null, quietShare: burst === undefined ? null : 1 - burst };
}

/** Days that say how long counted runs are. */
const COUNTED_DAYS = 28;
const LEAST_COUNTED_DAYS = 5;
/** One day with a run without end, or a filling, doesn't make such runs usual. */
const LONG_DAYS = 0.9;

/** How long runs are on days of long ones in the last weeks, s: the upper tenth of their means. */
function countedRunS(rows: readonly DayRow[]): number | null {
  const counted = rows.slice(-COUNTED_DAYS - 1, -1).filter((row) => row.source === 'counters' && row.starts > 0);
  return counted.length < LEAST_COUNTED_DAYS ? null : quantile(counted.map((row) => row.runS / row.starts), LONG_DAYS)!;
}

/** Three days of four have none that is longer: a week or two in which nothing is drawn don't make such rests usual. */
const USUAL_DAYS = 0.75;

/** Rests of the days that the baselines of run time and of demand were learned from; 0 while there is none. */
function restsOfBaseline(fed: readonly DayRow[], { epochs }: DaysJudged): Pick<Normal, 'baselineRestS' | 'usualDayRestS'> {
  const baseline = epochs.get('duty')?.baseline;
  if (baseline === undefined) return { baselineRestS: 0, usualDayRestS: 0 };
  const longest = ({ fromMs, toMs }: typeof baseline): number[] => fed.flatMap((row) => (row.startMs >= fromMs && row.endMs <= toMs ? [row.longestRestS] : []));
  return { baselineRestS: Math.max(0, ...longest(baseline)), usualDayRestS: quantile(longest(epochs.get('demand')?.baseline ?? baseline), USUAL_DAYS) ?? 0 };
}
