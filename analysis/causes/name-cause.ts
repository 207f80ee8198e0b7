import type { Sees } from '../../shared/distinguish.ts';
import { groupOf } from '../../shared/distinguish.ts';
import type { Cause, CauseProbability, Evidence } from '../../shared/finding.ts';
import type { Condition, OnsetMs, Slot } from './condition.ts';

/** A cause this sure is named though the channels can't part its group by themselves: something else told. */
const SURE = 0.9;
/** Causes less likely than this are not worth a person's look. */
const WORTH_NAMING = 0.03;

/** What a visit left so, and loses the piping its gas. */
const WANTS_SOMEBODY: ReadonlySet<Cause> = new Set(['bleed-left-open', 'valve-left-shut']);

/** Make a condition of weighed causes: the likeliest named, or its group as `undetermined` where the channels can't part it. */
export function nameCause(slot: Slot, weighed: { readonly causes: readonly CauseProbability[] }, sees: Sees, onset: OnsetMs, evidence: readonly Evidence[], size: number): Condition {
  const kept = weighed.causes.filter((one, index) => index === 0 || one.probability >= WORTH_NAMING);
  const total = kept.reduce((sum, one) => sum + one.probability, 0);
  const causes = kept.map((one) => ({ cause: one.cause, probability: Math.round((one.probability / total) * 1000) / 1000 }));
  const top = causes[0]!;
  const common = { slot, causes, onset, urgent: WANTS_SOMEBODY.has(top.cause), size };
  // A valve that is shut is looked for first, whatever else it may be.
  const group = top.probability >= SURE || top.cause === 'valve-left-shut' ? undefined : groupOf(top.cause, sees);
  const among = group?.among.filter((cause) => causes.some((one) => one.cause === cause)) ?? [];
  if (group === undefined || among.length < 2) return { ...common, cause: top.cause, among: null, missingChannels: [], evidence };
  return { ...common, urgent: common.urgent || among.includes('valve-left-shut'), cause: 'undetermined', among, missingChannels: group.missingChannels, evidence: [...evidence, { says: sentenceCase(group.says), for: 'undetermined', weight: 0 }] };
}

function sentenceCase(text: string): string {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;
}
