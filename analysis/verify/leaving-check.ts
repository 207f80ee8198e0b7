import type { LeavingCheck } from '../../shared/leaving-check.ts';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { isoFromMs, MINUTE_MS } from '../../shared/time.ts';
import { minutesFigure } from './figures.ts';
import { type Hint, type Live, lookAtNitrogen, lookAtPiping, lookAtRest, lookAtRun, lookAtSwitching, type Looked } from './leaving-items.ts';
import { type LeavingNormal, switchTrack } from './leaving-normal.ts';
import { restsOfTank, spansOf, tracksOf, within } from './tracks.ts';

export type LeavingInput = {
  readonly registered: RegisteredGenerator;
  readonly nowMs: number;
  /** Readings of this generator up to now, back to the beginning of its present run or rest. */
  readonly recent: ReadingBatch;
  readonly normal: LeavingNormal;
};

/** How far back "before you leave" looks. */
export const LIVE_MS = 30 * MINUTE_MS;
/** With nothing heard for so long, the last minutes can't be told. */
const SILENT_MS = 15 * MINUTE_MS;

const CARE = 'This is no proof that the generator is in order, and no test: it replaces no required signal, inspection or check of each valve by hand and eye.';
/** In this order, what is looked at first. */
const SAYS: readonly (readonly [hint: Hint, says: string])[] = [
  ['not-starting', 'Look before you leave: the compressor does not start although the tank is low. Is the power on, and each switch as found?'],
  ['supply-shut', 'Look before you leave: it looks as if the supply to the piping is shut, or nothing is drawn. Is each valve as you found it?'],
  ['bleed-open', 'Look before you leave: more is lost than usual. Is each bleed and drain shut, and each bowl tight?'],
  ['other', 'Look before you leave: something is unlike usual.'],
];

/**
 * "Before you leave": is the rise and fall of this generator as it should be, is a valve shut or a bleed open?
 *
 * The last half hour is held against windows of the same length out of this generator's own good days, so that bursts, steps of
 * a regulator and the gauge's scatter are in what counts as usual. A part is unlike usual when it lies outside what 99.6 % of
 * those windows kept to *and* the difference is large. What half an hour can't show is said. Prices and shares found: README.
 */
export function leavingCheck({ registered, nowMs, recent, normal }: LeavingInput): LeavingCheck {
  const tracks = tracksOf([recent]);
  const newestMs = [...tracks.values()].reduce((newest, track) => Math.max(newest, track.at(-1)![0]), -Infinity);
  const { site, generator } = { site: registered.site.id, generator: registered.generator.id };
  if (newestMs < nowMs - SILENT_MS) {
    const says = Number.isFinite(newestMs) ? `Nothing was heard for ${minutesFigure((nowMs - newestMs) / MINUTE_MS)}, so nothing can be said about the last half hour.` : 'Nothing was ever heard, so nothing can be said.';
    return { site, generator, fromAt: null, toAt: null, verdict: 'too little seen', suspect: null, says, items: [], notSeen: ['Everything: is the gateway on, and connected?'], care: CARE };
  }
  const fromMs = newestMs - LIVE_MS;
  const tank = within(tracks.get('tank-pressure'), fromMs, newestMs);
  const states = switchTrack(tracks);
  const live: Live = { tracks, tank, fromMs, toMs: newestMs, generator: registered.generator, spans: (states.length > 0 ? spansOf(states, newestMs) : restsOfTank(tank)).filter((span) => span.toMs >= fromMs) };
  return { site, generator, fromAt: isoFromMs(fromMs), toAt: isoFromMs(newestMs), ...summed([lookAtSwitching(live, normal), lookAtRest(live, normal), ...lookAtRun(live, normal), ...lookAtPiping(live, normal), lookAtNitrogen(live)]), care: CARE };
}

function summed(parts: readonly Looked[]): Pick<LeavingCheck, 'verdict' | 'suspect' | 'says' | 'items' | 'notSeen'> {
  const items = parts.flatMap((part) => part.items);
  const hints = new Set(parts.flatMap((part) => part.hints));
  const notSeen = [...new Set(parts.flatMap((part) => part.notSeen))];
  const found = SAYS.find(([hint]) => hints.has(hint));
  if (found !== undefined) return { verdict: 'unlike usual', suspect: found[0], says: found[1], items, notSeen };
  const seen = items.filter((item) => item.state === 'as usual' && item.part !== 'switching').length;
  if (seen === 0) return { verdict: 'too little seen', suspect: null, says: 'Too little was seen in the last half hour to say anything.', items, notSeen };
  // A bleed on the feed side takes nothing at rest: without a run this is no all-clear, and must not sound like one.
  const ran = items.some((item) => item.part === 'run' && item.state === 'as usual');
  const says = ran ? 'Nothing unlike usual was seen in the last half hour. Some things show only later, see below.' : 'No run was seen in the last half hour that could be compared, so nothing is known of bleeds on the feed side. Of what was seen, nothing is unlike usual.';
  return { verdict: 'nothing unlike usual seen', suspect: null, says, items, notSeen };
}
