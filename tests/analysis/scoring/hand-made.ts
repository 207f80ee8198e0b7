import type { Cause, Finding } from '../../../shared/finding.ts';
import { DAY_MS, HOUR_MS, isoFromMs } from '../../../shared/time.ts';
import type { TrueFault, TrueUpset } from '../../../analysis/scoring/truth.ts';

export const START_MS = Date.UTC(2026, 0, 1);
/** A moment of the hand-made world, in days and hours from its start. */
export const at = (day: number, hour = 0): string => isoFromMs(START_MS + day * DAY_MS + hour * HOUR_MS);

export function fault(cause: Cause, onsetDay: number, more: Partial<TrueFault> = {}): TrueFault {
  return { site: 'quay', generator: 'gen-1', cause, onset: at(onsetDay), knowableAt: at(onsetDay), end: null, endedBy: null, severity: 'plain', shape: 'step', ...more };
}

export function upset(kind: string, fromDay: number, toDay: number, maySay: Cause[]): TrueUpset {
  return { site: 'quay', generator: 'gen-1', kind, from: at(fromDay), to: at(toDay), maySay };
}

type Line = Finding['history'][number];
/** A finding with its history: what it said from which day on. */
export function finding(id: string, openedDay: number, said: Cause, more: Partial<Finding> & { readonly later?: readonly Line[]; readonly probability?: number } = {}): Finding {
  const { later = [], probability = 0.9, ...rest } = more;
  const first: Line = { at: at(openedDay), cause: said, probability, ...(rest.among === undefined || rest.among === null ? {} : { among: rest.among }) };
  const last = later.at(-1) ?? first;
  return {
    id, site: 'quay', generator: 'gen-1', openedAt: at(openedDay), onset: { earliest: null, likely: null, latest: null }, cause: last.cause, causes: [{ cause: last.cause, probability: last.probability }],
    among: null, missingChannels: [], alongside: [], history: [first, ...later], evidence: [{ says: 'made by hand', for: said, weight: 2 }], settings: 'hand', state: 'new', shelvedUntil: null, closedAt: null, closedReason: null, ...rest,
  };
}
