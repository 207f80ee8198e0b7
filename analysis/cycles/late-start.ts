import type { Channel } from '../../shared/channels.ts';
import { fillsOwnTank, reportEveryS } from './normal.ts';
import type { DescriptorSetup, DescriptorState } from './state.ts';

/*
 * A gateway that sends on change reads the tank as the compressor starts: that reading ends the rest. One that reads by the clock
 * says a start up to a report late, and the tank has risen meanwhile: that reading is the run's own, and taken for the rest's it
 * took 90 of the 95 kPa that a rest of an hour and a half had lost.
 */

/** More than gauges scatter by, kPa. Common practice, no source. */
const RISE_KPA = 3;
/** How fast it is learned whether starts are said late; and what share of them makes it so. Common practice, no source. */
const FOLLOWS = 0.1;
const IS_LATE = 0.3;

type Sent = readonly { readonly channel: Channel; readonly value: number }[];

/** The channel that says a start in this instant, if the tank that it fills has risen before it: the run began earlier. Else `null`. Learns how often starts come so. */
export function saidLate(state: DescriptorState, setup: DescriptorSetup, readings: Sent): 'running' | 'producing' | null {
  const { run, tank } = state;
  if (run.phase !== 0 || run.channel === null || tank.last === null || !fillsOwnTank(state, setup)) return null;
  let kPa: number | undefined;
  let starts = false;
  for (const { channel, value } of readings) {
    if (channel === run.channel) starts = value >= 0.5;
    else if (channel === 'tank-pressure') kPa = value;
  }
  if (!starts || kPa === undefined) return null;
  const rose = kPa > tank.last.kPa + RISE_KPA;
  const { lateShare = 0 } = run;
  if (rose || lateShare > 0) run.lateShare = Math.round(1000 * (lateShare + FOLLOWS * (Number(rose) - lateShare))) / 1000;
  return rose ? run.channel : null;
}

/** Where some starts come so, a single one may. Common practice, no source. */
const MAY_BE_LATE = 0.1;

/** Whether starts and stops may be read by the clock. */
export function mayBeSaidLate({ run }: DescriptorState): boolean {
  return (run.lateShare ?? 0) > MAY_BE_LATE;
}

/** To how many seconds starts and stops are known: a report where they are said late, else 0. */
export function edgeS(state: DescriptorState, setup: DescriptorSetup): number {
  return (state.run.lateShare ?? 0) > IS_LATE ? reportEveryS(state, setup) : 0;
}
