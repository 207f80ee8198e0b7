import { groupOf, type Sees } from '../../shared/distinguish.ts';
import { type Cause, familyOf } from '../../shared/finding.ts';
import type { Said } from './said.ts';

/** How what was said fits what was: the cause itself (or exactly the group that hides it), its family, or neither. */
export type Fit = 'right' | 'family' | 'wrong';

/** Whether the channels sent leave these two in one group of the fixed table. */
export function inOneGroup(a: Cause, b: Cause, sees: Sees): boolean {
  return a === b || (groupOf(a, sees)?.among.includes(b) ?? false) || (groupOf(b, sees)?.among.includes(a) ?? false);
}

/** Of instruments and data only these two are alike: a generator that sends no `power` falls silent when the mains go. */
const SILENT: readonly Cause[] = ['no-power', 'data-gap'];

/** Whether a cause of the same family is near enough to bring the right person: a silent gateway says nothing of a switch that was turned. */
function isNear(said: Cause, truth: Cause): boolean {
  const family = familyOf(truth);
  return familyOf(said) === family && (family !== 'data' || (SILENT.includes(said) && SILENT.includes(truth)));
}

/**
 * `undetermined` is right if it lists the truth and only causes that the channels can't part from it; a list that is wider
 * says less than could be known, and is wrong. A single cause of the same family is half right.
 */
export function fitOf(said: Pick<Said, 'cause' | 'among'>, truth: Cause, sees: Sees): Fit {
  if (said.cause === truth) return 'right';
  if (said.cause === 'undetermined') {
    const among = said.among ?? [];
    return among.includes(truth) && among.every((cause) => inOneGroup(cause, truth, sees)) ? 'right' : 'wrong';
  }
  return isNear(said.cause, truth) ? 'family' : 'wrong';
}
