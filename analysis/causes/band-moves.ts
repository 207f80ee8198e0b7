import type { DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import { mad, median } from '../change/robust.ts';
import { dayWords } from './evidence.ts';
import { isUsableDay, lastRows, type SeriesPoint, type Watched } from './day-series.ts';
import { isFar } from './gauge-faults.ts';
import { isSetPoint } from './mends.ts';
import type { BandShift } from './set-point.ts';

/*
 * What a moved band explains. Delivery falls with the tank's pressure, Q(p) = Q_ref·[1 − β(p − p_ref)/p_ref] with absolute
 * pressures (design, section 6): a band that stands higher by a share of p_ref takes β times that share from ln(delivery), and
 * the run time rises by as much. β is learned from the bend of the rises (cycles/bend.ts) before the band moved; where that can't
 * be seen, all that the steepest machines could do is allowed for.
 */

/** β of the steepest machines: where the membrane floats on the tank (design, section 6). */
const MOST_BETA = 2.5;
const OUTSIDE_KPA = 101;
/** Days that β is learned from, and the fewest; days with more burst say nothing of it. */
const LEARN_DAYS = 60;
const LEAST_DAYS = 5;
const MOST_BURST = 0.1;
/** Standard error that β has at least, however many days: what simulated machines stood off by (cycles/README.md); from here on it isn't known. */
const LEAST_SE = 0.15;
const MOST_SE = 0.6;

export type Bend = { readonly beta: number; readonly se: number };

/** β of Q(p) from the days up to a moment, with its standard error; `undefined` where too few days show it, or they scatter too much. */
export function learnedBend(rows: readonly DayRow[], toMs: number): Bend | undefined {
  const bends = lastRows(rows, LEARN_DAYS, (row) => row.endMs <= toMs && typeof row.bend === 'number' && (row.burstShare ?? 0) < MOST_BURST && isUsableDay(row)).map((row) => row.bend!);
  if (bends.length < LEAST_DAYS) return undefined;
  const beta = median(bends)!;
  const se = Math.hypot(LEAST_SE, (1.25 * mad(bends, beta)!) / Math.sqrt(bends.length));
  return se > MOST_SE ? undefined : { beta: Math.max(0, Math.min(MOST_BETA, beta)), se };
}

/** From here on the band stands `share` of p_ref, or so many kPa, higher than at first, and `step` of p_ref higher than before. */
export type BandMove = { readonly fromMs: number; readonly share: number; readonly kPa: number; readonly step: number; readonly logged: boolean };
export type BandMoves = { readonly bend: Bend; readonly moves: readonly BandMove[] };

/** Days beside a move whose band is compared. */
const BESIDE_DAYS = 14;

/** The moves of the band that people logged, and the one that nobody did, with the bend of the days before the last of them; `undefined` where there is none or the bend isn't known. */
export function bandMoves(rows: readonly DayRow[], entries: readonly Entry[], fromMs: number, moved: BandShift | undefined): BandMoves | undefined {
  // So far only a gauge can be off, and then no delivery goes with it.
  const band = moved === undefined || isFar(moved) ? undefined : moved;
  const logged = entries.filter(isSetPoint).map((entry) => Date.parse(entry.finishedAt ?? entry.startedAt)).filter((atMs) => atMs > fromMs).sort((a, b) => a - b);
  if (logged.length === 0 && band === undefined) return undefined;
  const bend = learnedBend(rows, band?.sinceMs ?? logged.at(-1)!);
  if (bend === undefined) return undefined;
  const edges = [fromMs, ...logged, Infinity];
  const middles = edges.slice(0, -1).map((atMs, index) => middleOf(rows.filter((row) => row.startMs >= atMs && row.endMs <= Math.min(edges[index + 1]!, band?.sinceMs ?? Infinity)), index === logged.length));
  const refKPa = middles.find((middle) => middle !== undefined);
  if (refKPa === undefined) return undefined;
  const moves: BandMove[] = [];
  let before = 0;
  for (const [index, atMs] of logged.entries()) {
    const middle = middles[index + 1];
    if (middle === undefined) continue;
    const share = (middle - refKPa) / (refKPa + OUTSIDE_KPA);
    moves.push({ fromMs: atMs, share, kPa: middle - refKPa, step: share - before, logged: true });
    before = share;
  }
  if (band !== undefined) {
    const step = shareOf(band);
    moves.push({ fromMs: band.sinceMs, share: before + step, kPa: (before + step) * (refKPa + OUTSIDE_KPA), step, logged: false });
  }
  return { bend, moves };
}

/** Middle of the band over the first days after a move, or the last before one, kPa gauge. */
function middleOf(rows: readonly DayRow[], last: boolean): number | undefined {
  const middles = rows.flatMap((row) => (row.cutInKPa === null || row.cutOutKPa === null || !isUsableDay(row) ? [] : [(row.cutInKPa + row.cutOutKPa) / 2]));
  return median(last ? middles.slice(0, BESIDE_DAYS) : middles.slice(-BESIDE_DAYS));
}

function shareOf(band: BandShift): number {
  return (band.startKPa + band.stopKPa) / (band.wasStartKPa + band.wasStopKPa + 2 * OUTSIDE_KPA);
}

/** By how much ln(delivery) stands off at a moment because of the band. */
export function explainedAt(known: BandMoves | undefined, name: Watched, atMs: number): number {
  if (known === undefined || name !== 'delivery') return 0;
  return -known.bend.beta * (known.moves.findLast((move) => atMs >= move.fromMs)?.share ?? 0);
}

/** Delivery as it would be with the first band; the other series as they are: limits of run time mean what it is. */
export function atFirstBand(points: readonly SeriesPoint[], name: Watched, known: BandMoves | undefined): readonly SeriesPoint[] {
  if (known === undefined || name !== 'delivery') return points;
  return points.map((point) => ({ startMs: point.startMs, endMs: point.endMs, value: point.value - explainedAt(known, name, point.startMs), se: point.se }));
}

/** A leak on the tank's side goes with absolute pressure; by no more can demand hang on the band. */
const BY_TANK_LEAK = 1;
/** Where the band is wider or narrower, more or less of each run fills bowls. Common practice, no source. */
const BY_BOWLS = 0.05;
const SURE_SD = 2;
/** Steep machines grow steeper as the band rises: simulated ones by up to 10 of β for a whole p_ref, which is half of it times the square of the move. */
const BY_CURVE = 5;

/** How far ln of demand, delivery or duty ratio may still stand off where delivery is taken at the first band. */
export function leftByMove({ bend }: BandMoves, name: Watched, { step, logged }: BandMove): number {
  // A band that seems to stand lower, and nobody says so, may be the gauge's doing: then no more was made.
  const delivery = SURE_SD * bend.se * Math.abs(step) + BY_CURVE * step * step + (logged ? 0 : bend.beta * Math.max(0, -step));
  const demand = BY_TANK_LEAK * Math.abs(step);
  return name === 'delivery' ? delivery : name === 'demand' ? demand : demand + delivery + bend.beta * Math.abs(step) + BY_BOWLS;
}

/** Whoever sets the points may have worked on the piping too. Common practice, no source. */
const BY_WORK = 0.08;

/** The same where the bend isn't known, of a set point that was logged then: all that the steepest machines could do; `undefined` where the band isn't seen on both sides of it. */
export function mostByMove(rows: readonly DayRow[], name: Watched, atMs: number): number | undefined {
  const was = middleOf(rows.filter((row) => row.endMs <= atMs), false);
  const is = middleOf(rows.filter((row) => row.startMs >= atMs), true);
  if (was === undefined || is === undefined) return undefined;
  const step = (is - was) / (was + OUTSIDE_KPA);
  const demand = BY_TANK_LEAK * Math.abs(step) + BY_WORK;
  // Makers give Q(p) by gauge pressure as well.
  const delivery = (MOST_BETA * Math.abs(is - was)) / was + BY_CURVE * step * step;
  return name === 'delivery' ? delivery : name === 'demand' ? demand : demand + delivery + BY_BOWLS;
}

/** How much ln(delivery), ln(demand) and ln(duty ratio) may stand off by a band that moved and nobody logged. */
export function unexplained(name: Watched, careful: BandShift | undefined, known: BandMoves | undefined): number {
  if (careful === undefined) return 0;
  const move = known?.moves.at(-1);
  // Until it is sure that the band moved, and not for a day, and where β isn't known: all that it could do.
  return known === undefined || move === undefined || move.logged ? MOST_BETA * Math.abs(shareOf(careful)) : leftByMove(known, name, move);
}

/** "The band stands 60 kPa higher than at first, since 16 Apr: by the bend of its rises that takes 13 % of delivery (±2), which is left out here." `undefined` where it takes and gives less than a hundredth. */
export function movesSentence(known: BandMoves | undefined, timeZone: string): string | undefined {
  const last = known?.moves.at(-1);
  if (known === undefined || last === undefined) return undefined;
  const explained = Math.expm1(explainedAt(known, 'delivery', last.fromMs));
  if (Math.abs(explained) < 0.01) return undefined;
  return `The band stands ${Math.abs(Math.round(last.kPa))} kPa ${last.kPa > 0 ? 'higher' : 'lower'} than at first, since ${dayWords(new Date(last.fromMs).toISOString(), timeZone)}: by the bend of its rises that ${explained < 0 ? 'takes' : 'adds'} ${Math.abs(Math.round(100 * explained))} % of delivery (±${Math.ceil(100 * known.bend.se * Math.abs(last.share))}), which is left out here.`;
}
