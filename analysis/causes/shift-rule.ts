import type { DayRow } from '../../shared/cycle.ts';
import type { AnalysisSettings } from '../../shared/analysis-settings.ts';
import { SCATTER_FLOOR, type Watched } from './day-series.ts';
import { type Epoch, HANGS_ON_BAND } from './epochs.ts';
import { BY_DAY, type Cadence, SMALLEST_CHANGE, type ShiftRule } from './find-shift.ts';
import { isFlooding } from './flooding.ts';
import { type BandMoves, unexplained } from './band-moves.ts';
import type { BandShift } from './set-point.ts';

/** By which rule a series is watched here: how small a change matters, after what may change by right. What a membrane loses creeps, and would be learned as usual before a visit. */
export function ruleOf(epoch: Epoch, { settings, careful, moves, rows }: RuleKnown, cadence: Cadence): ShiftRule {
  return { watchFromMs: epoch.watchFromMs, floor: SCATTER_FLOOR[epoch.name], learnDays: cadence === BY_DAY && LEARNS_ON.has(epoch.name) ? LEARN_DAYS : 0, learnBefore: epoch.allowed === 0 && epoch.name !== 'nitrogen', smallest: smallestOf(epoch.name, settings, rows) + epoch.allowed + (HANGS_ON_BAND.has(epoch.name) ? unexplained(epoch.name, careful, moves) : 0) + seasonOf(epoch.name, rows), cadence, falseFindingsPerYear: settings.falseFindingsPerYear, wanders: epoch.name === 'demand' || epoch.name === 'duty', creeps: epoch.name === 'delivery' || epoch.name === 'nitrogen' ? -1 : 0 };
}

type RuleKnown = { readonly settings: AnalysisSettings; readonly careful: BandShift | undefined; readonly moves: BandMoves | undefined; readonly rows: readonly DayRow[] };

/** Without a room temperature, the gas of a season looks like more or less of it: 3.4 % for 10 K (design, section 6), and rooms swing by 15 K. */
const BY_SEASON = 0.05;

/** What a season may move a series by, in its unit, that nothing corrects. */
export function seasonOf(name: Watched, rows: readonly DayRow[]): number {
  return (name === 'demand' || name === 'delivery') && rows.at(-1)?.roomC === null ? BY_SEASON : 0;
}

/** Demand, delivery, run time and nitrogen wander about a level that is learned for longer; drop and pressures drift from the first day on. */
const LEARN_DAYS = 60;
const LEARNS_ON: ReadonlySet<Watched> = new Set(['demand', 'delivery', 'duty', 'nitrogen', 'feedFall', 'compressorRun']);

/** A drop over the elements that grows as no dust makes it grow matters from here on, kPa; common practice, no source. */
const SMALLEST_FLOOD_KPA = 8;

function smallestOf(name: Watched, settings: AnalysisSettings, rows: readonly DayRow[]): number {
  if (name === 'elementDrop' && isFlooding(rows)) return SMALLEST_FLOOD_KPA;
  return name === 'demand' || name === 'delivery' ? settings.smallestChange : SMALLEST_CHANGE[name];
}
