import { MINUTE_MS, HOUR_MS } from '../../shared/time.ts';
import { contentKPa, outsideKPa } from './tank-content.ts';
import { holdsAt, LOW_SHARE } from './holding.ts';
import { heedBurst } from './bursts.ts';
import { bandOf } from './normal.ts';
import type { PeriodSums } from './period-sums.ts';
import { advanceRun, breakChains, endFall } from './run-state.ts';
import { settlesMs } from './settling.ts';
import { heedTurn } from './unsaid-turn.ts';
import type { DescriptorSetup, DescriptorSink, DescriptorState, TankSample } from './state.ts';
import { rounded } from './thinned.ts';

/** Bowls fill and gas warms at first: rises leave out this much of a run. */
export const RUN_SETTLES_MS = MINUTE_MS;
/** A long rest gives one value each two hours, so that a day without a start still shows its scatter. */
const FALL_BLOCK_S = 7200;
/** A temperature that is older than this is not the gas's any more. */
const TEMPERATURE_HOLDS_MS = 6 * HOUR_MS;
/** Where no temperature is sent. */
const ASSUMED_CELSIUS = 20;
/** Share of the band within which the rise of a run is taken: below, bowls fill; above, the switch is near. */
const RISE_FROM = 0.15;
const RISE_TO = 0.9;
const RISE_MIDDLE = (RISE_FROM + RISE_TO) / 2;

/** A tank pressure came: its content goes into the falls, the balance and the slopes of the cycle under way. */
export function tankSent(state: DescriptorState, setup: DescriptorSetup, atMs: number, kPa: number, sink: DescriptorSink): TankSample {
  const sample = { atMs, kPa: rounded(kPa), content: rounded(contentKPa(kPa, outsideKPa(setup), gasCelsius(state, atMs))) };
  const { tank, run } = state;
  advanceRun(state, setup, atMs, sink);
  heedTurn(state, setup, sample, sink);
  learnStep(state, kPa);
  tank.before = tank.last;
  tank.last = sample;
  if (run.phase === null) {
    if (state.quarter!.by.counters !== undefined && holdsAt(state, setup, atMs)) widenTankSpan(state.quarter!, sample.kPa);
    return sample;
  }
  if (!holdsAt(state, setup, atMs)) {
    endFall(state);
    breakChains(state);
    return sample;
  }
  addToBalance(state, sample);
  raiseStop(state, sample);
  lowerStop(state, setup, sample);
  lowerStart(state, sample);
  if (run.phase === 0) inRest(state, setup, sample);
  else inRun(state, setup, sample);
  return sample;
}

/** Temperature of the tank's gas: as sent, else the room's with a lag, else 20 °C. When the source changes, no difference is taken across. */
function gasCelsius(state: DescriptorState, atMs: number): number {
  const from = state.tankC !== null && atMs - state.tankCAtMs <= TEMPERATURE_HOLDS_MS ? 'tank' : state.roomC !== null && atMs - state.roomAtMs <= TEMPERATURE_HOLDS_MS ? 'room' : 'none';
  if (from !== state.celsiusFrom) {
    state.celsiusFrom = from;
    breakChains(state);
    if (state.open !== null) state.open.fallFirst = state.open.riseFirst = state.open.riseMid = null;
  }
  return from === 'tank' ? state.tankC! : from === 'room' ? state.roomC! : ASSUMED_CELSIUS;
}

function learnStep(state: DescriptorState, kPa: number): void {
  const { tank } = state;
  if (tank.last === null) return;
  const step = rounded(Math.abs(kPa - tank.last.kPa));
  if (step > 0 && (tank.stepKPa === 0 || step < tank.stepKPa)) tank.stepKPa = step;
}

/** Where cycles are only counted, the span of the tank is the band. */
function widenTankSpan(quarter: PeriodSums, kPa: number): void {
  const span = quarter.tankSpan;
  quarter.tankSpan = span === undefined ? [kPa, kPa] : [Math.min(span[0], kPa), Math.max(span[1], kPa)];
}

function addToBalance(state: DescriptorState, sample: TankSample): void {
  const { tank, run } = state;
  if (tank.chain !== null) {
    tank.rise += sample.content - tank.chain.content;
    tank.spanS += (sample.atMs - tank.chain.atMs) / 1000;
    tank.runS += run.totalRunS - tank.chain.runS;
  }
  tank.chain = { content: sample.content, atMs: sample.atMs, runS: run.totalRunS };
}

/** A sample so soon after a stop tells where it stopped at least: a tank only falls from there. */
const SHOWS_STOP_MS = 15 * MINUTE_MS;

/** The last sample of a run may be minutes before its stop. */
function raiseStop({ run, open }: DescriptorState, { atMs, kPa }: TankSample): void {
  if (run.phase === 0 && open !== null && open.stopKPa !== null && kPa > open.stopKPa && atMs - run.sinceMs <= SHOWS_STOP_MS) open.stopKPa = kPa;
}

/** A rise that was carried from a reading minutes before the stop goes past it, as it slows down on the way. The first reading of the rest, so soon after, is below the stop by what the gas cools, this share of the band, what a usual rest loses meanwhile, and so much. Common practice, no source. */
const CARRIED_MS = 6 * MINUTE_MS;
const COOLS_SHARE = 0.06;
const STOP_KPA = 3;

function lowerStop(state: DescriptorState, setup: DescriptorSetup, { atMs, kPa }: TankSample): void {
  const { run, open, tank: { before } } = state;
  const band = bandOf(state, setup);
  if (run.phase !== 0 || open === null || open.stopKPa === null || before === null || before.atMs > run.sinceMs || atMs - run.sinceMs > CARRIED_MS || band === null) return;
  const bandKPa = band.highKPa - band.lowKPa;
  const losesKPa = state.usualRestS === 0 ? bandKPa : (bandKPa * (atMs - run.sinceMs)) / (1000 * state.usualRestS);
  open.stopKPa = Math.max(before.kPa, Math.min(open.stopKPa, kPa + COOLS_SHARE * bandKPa + losesKPa + STOP_KPA));
}

/** A sample so soon after a start tells where it started at most: bowls fill first, and then the tank rises. */
const SHOWS_START_MS = 2 * MINUTE_MS;

/** What was drawn in a burst between the last sample of a rest and the start isn't in the rest's slope. */
function lowerStart({ run, open }: DescriptorState, { atMs, kPa }: TankSample): void {
  if (run.phase === 1 && open !== null && open.startKPa !== null && kPa < open.startKPa && atMs - run.sinceMs <= SHOWS_START_MS) open.startKPa = kPa;
}

/** A tank this far below its start, in bands, should have been filled: its fall is that of a fault, and not of what is drawn. */
const EMPTIED_BANDS = 0.3;

function inRest(state: DescriptorState, setup: DescriptorSetup, sample: TankSample): void {
  const { tank, run, open } = state;
  if (sample.atMs - run.sinceMs < settlesMs(state)) return;
  const band = bandOf(state, setup);
  if (band !== null && sample.kPa < band.lowKPa - EMPTIED_BANDS * (band.highKPa - band.lowKPa)) {
    endFall(state);
    return;
  }
  if (tank.settled !== null) {
    const fell = tank.settled.content - sample.content;
    const tookS = (sample.atMs - tank.settled.atMs) / 1000;
    tank.fall = rounded(tank.fall + fell);
    tank.fallS += tookS;
    tank.cycleFall = rounded(tank.cycleFall + fell);
    tank.cycleFallS += tookS;
    heedBurst(state);
  }
  const settled = { content: sample.content, atMs: sample.atMs };
  if (tank.fallS >= FALL_BLOCK_S) endFall(state);
  tank.settled = settled;
  if (open === null) return;
  open.fallFirst ??= sample;
  open.fallLast = sample;
}

function inRun(state: DescriptorState, setup: DescriptorSetup, sample: TankSample): void {
  const { run, open } = state;
  if (open === null || sample.atMs - run.sinceMs < RUN_SETTLES_MS) return;
  const band = bandOf(state, setup);
  if (band !== null && sample.kPa < band.lowKPa - LOW_SHARE * (band.highKPa - band.lowKPa)) open.wasLow = true;
  const share = band === null ? 0.5 : (sample.kPa - band.lowKPa) / (band.highKPa - band.lowKPa);
  if (share < RISE_FROM || share > RISE_TO) return;
  open.riseFirst ??= sample;
  if (share >= RISE_MIDDLE) open.riseMid ??= [sample.atMs, sample.content];
  open.riseLast = sample;
}
