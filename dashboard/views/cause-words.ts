import type { Cause, CauseProbability, Evidence, Finding } from '../../shared/finding.ts';

/*
 * What a cause is called in a sentence, who is asked to go, and what to bring. Common practice, no source; rules of the
 * place and the maker's instructions come first.
 */

/** Where the evidence puts a leak. The side of a leak is no cause of its own: analysis says it in a sentence. */
export type LeakSide = 'piping' | 'tank' | null;

type Words = { readonly says: string; readonly who: string; readonly bring: readonly string[]; readonly atOnce: boolean };

const TECHNICIAN = 'generator technician';
const LEAK_TOOLS = ['leak-detection spray', 'thread sealant and spare fittings'] as const;
const ELEMENT_SET = ['particulate element', 'coalescing element', 'carbon element', 'o-rings for the bowls'] as const;

const WORDS: Readonly<Record<Cause, Words>> = {
  leak: { says: 'more nitrogen is drawn: leak', who: `${TECHNICIAN} to look on the tank side first; a licensed sprinkler fitter and a hold test if it is in the piping`, bring: LEAK_TOOLS, atOnce: false },
  'bleed-left-open': { says: 'a bleed or drain was left open', who: 'whoever was there last, at once; else the nearest generator technician', bring: ['list of the valves as found'], atOnce: true },
  'supply-bypassed': { says: 'another supply feeds the piping', who: 'someone on site looks at the bypass valves; then whoever was there last', bring: ['list of the valves as found'], atOnce: true },
  'valve-left-shut': { says: 'a valve was left shut', who: 'whoever was there last, at once; the piping loses pressure meanwhile', bring: ['list of the valves as found'], atOnce: true },
  'check-valve-leaking': { says: 'the check valve leaks back', who: TECHNICIAN, bring: ['check valve and its seals', 'leak-detection spray'], atOnce: false },
  'element-loading': { says: 'the elements are loading', who: TECHNICIAN, bring: ELEMENT_SET, atOnce: false },
  'element-missing': { says: 'an element is missing or was not changed', who: `${TECHNICIAN}, before the membrane takes oil or water`, bring: ELEMENT_SET, atOnce: false },
  'drain-stuck-open': { says: 'a condensate drain is stuck open', who: TECHNICIAN, bring: ['condensate drain', 'drain rebuild parts and o-rings', 'container for oily condensate'], atOnce: false },
  'drain-stuck-closed': { says: 'a condensate drain is stuck closed', who: `${TECHNICIAN}, before water reaches the membrane`, bring: ['condensate drain', 'drain rebuild parts and o-rings', 'coalescing element', 'container for oily condensate'], atOnce: false },
  'compressor-side': { says: 'the compressor delivers less', who: TECHNICIAN, bring: ['intake element', 'compressor valves with rings and head gasket', 'belt (where there is one)', 'clamp meter for voltage and current'], atOnce: false },
  'membrane-decline': { says: 'the membrane declines', who: `${TECHNICIAN}, with the maker's instructions for the membrane`, bring: ["maker's instructions for the membrane", 'portable oxygen analyser', ...ELEMENT_SET], atOnce: false },
  'not-starting': { says: 'the compressor does not start', who: `${TECHNICIAN}, at once; someone on site looks first whether the power is on`, bring: ['pressure switch', 'motor starter and overload parts', 'clamp meter for voltage and current'], atOnce: true },
  'stops-short': { says: 'the compressor stops before its set point', who: TECHNICIAN, bring: ['pressure switch', 'motor starter and overload parts', 'clamp meter for voltage and current'], atOnce: false },
  'runs-without-end': { says: 'the compressor runs without end', who: `${TECHNICIAN}, at once; a licensed sprinkler fitter too if the piping lost pressure`, bring: ['pressure switch', 'condensate drain', ...LEAK_TOOLS, 'clamp meter for voltage and current'], atOnce: true },
  'sensor-fault': { says: 'a sensor does not tell the truth', who: 'instrument and gateway person', bring: ['sensor of the channel named in the evidence', 'reference gauge', 'portable oxygen analyser'], atOnce: false },
  'set-point-changed': { says: 'the pressure band was changed', who: 'whoever was there last says whether it was meant; else a generator technician', bring: ['reference gauge', 'set points of the maker and of the site'], atOnce: false },
  'no-power': { says: 'no power at the generator', who: "the site's electrician, or someone on site who looks at the breaker", bring: [], atOnce: true },
  'data-gap': { says: 'readings are missing', who: 'instrument and gateway person', bring: ['spare gateway, antenna or SIM', 'cable and connector for the sensors'], atOnce: false },
  undetermined: { says: 'run time changed, the cause cannot be told from the channels sent', who: `${TECHNICIAN}, to find the cause on the spot`, bring: ['reference gauge', 'leak-detection spray'], atOnce: false },
};

/** Which side of the tank a leak is on, as its evidence says; `null` when it says neither or both. */
export function leakSide(evidence: readonly Evidence[]): LeakSide {
  const about = evidence.filter((one) => one.for === 'leak' && one.weight > 0).map((one) => one.says.toLowerCase());
  const piping = about.some((says) => says.includes('piping side'));
  const tank = about.some((says) => says.includes('tank side'));
  return piping === tank ? null : piping ? 'piping' : 'tank';
}

/** A cause as the start of a sentence, for lists: "leak in the piping", "the elements are loading". */
export function causeInWords(cause: Cause, among: readonly Cause[] | null = null, side: LeakSide = null): string {
  if (cause === 'leak' && side === 'piping') return 'more nitrogen is drawn: leak in the piping';
  if (cause === 'leak' && side === 'tank') return 'more nitrogen is drawn: leak at the tank or its fittings';
  if (cause === 'undetermined' && among !== null && among.length > 0) return `one of these, the channels sent can't tell which: ${among.map((one) => WORDS[one].says).join('; ')}`;
  return WORDS[cause].says;
}

/** Who is asked to go for this cause; `null` for a service that is only due by the calendar or the hour meter. */
export function whoMustGo(cause: Cause | null, side: LeakSide = null, among: readonly Cause[] | null = null): string {
  if (cause === null) return TECHNICIAN;
  if (cause === 'undetermined' && among?.includes('data-gap')) return `someone on site looks at the breaker first; then ${WORDS['data-gap'].who}`;
  if (cause === 'leak' && side === 'piping') return 'licensed sprinkler fitter, and a hold test afterwards';
  if (cause === 'leak' && side === 'tank') return TECHNICIAN;
  return WORDS[cause].who;
}

/** Where the channels can't tell which, so sure it must be that it is one that waits for nothing. */
const AT_ONCE = 0.5;

/** True for causes that wait for nothing: protection or the machine is at stake, and a look on site costs little. With `undetermined`, where it is as likely as not one of them. */
export function mustGoAtOnce(cause: Cause | null, causes: readonly CauseProbability[] = []): boolean {
  if (cause === 'undetermined') return causes.reduce((sum, one) => sum + (WORDS[one.cause].atOnce ? one.probability : 0), 0) >= AT_ONCE;
  return cause !== null && WORDS[cause].atOnce;
}

/** A cause below this share of the probability is not worth carrying parts for. */
const WORTH_BRINGING = 0.15;

/**
 * What to put in the van: parts for the main cause and for every other that is still likely enough, each once.
 * With `undetermined` the parts of all causes that the channels can't tell apart. No cause: the elements, as at any service.
 */
export function whatToBring(cause: Cause | null, causes: readonly CauseProbability[] = [], among: readonly Cause[] | null = null, side: LeakSide = null): readonly string[] {
  if (cause === null) return ['intake element', ...ELEMENT_SET];
  if (cause === 'undetermined' && among?.includes('data-gap')) return WORDS['data-gap'].bring;
  const likely = [cause, ...causes.filter((one) => one.probability >= WORTH_BRINGING).map((one) => one.cause), ...(cause === 'undetermined' ? (among ?? []) : [])];
  const parts = likely.flatMap((one) => WORDS[one].bring);
  return [...new Set(side === 'piping' && cause === 'leak' ? ['pump and gauge for a hold test', ...parts] : parts)];
}

/** How sure a finding is of what it says; with `undetermined`, that it is one of `among`. 0..1. */
export function probabilityOf(finding: Pick<Finding, 'cause' | 'causes' | 'among'>): number {
  const named = finding.among ?? [finding.cause];
  return Math.min(1, finding.causes.filter((one) => named.includes(one.cause)).reduce((sum, one) => sum + one.probability, 0));
}
