import type { BaseChannel } from './channels.ts';
import type { Cause } from './finding.ts';

/*
 * What a set of channels can tell apart: a fixed table, used by analysis to name groups and by the scoring to judge them
 * (design, section 5, "Scoring rules"). From the signatures of section 6: two causes are told apart when a channel is sent
 * in which they move differently.
 */

/** Channels grouped by what they make visible. */
export type Sees = { readonly split: boolean; readonly elementPressures: boolean; readonly dischargePressure: boolean; readonly feedPressure: boolean; readonly purity: boolean; readonly systemPressure: boolean; readonly runState: boolean; readonly tankPressure: boolean; readonly power: boolean };

/** What a generator's channels make visible. Run state, or run and rest times, are enough to split demand from delivery. */
export function seesOf(channels: ReadonlySet<BaseChannel>): Sees {
  const runState = channels.has('running') || channels.has('producing') || (channels.has('run-time') && channels.has('starts'));
  const tankPressure = channels.has('tank-pressure');
  const dischargePressure = channels.has('discharge-pressure');
  const feedPressure = channels.has('feed-pressure');
  return { split: runState || tankPressure, elementPressures: dischargePressure && feedPressure, dischargePressure, feedPressure, purity: channels.has('nitrogen') || channels.has('oxygen'), systemPressure: channels.has('system-pressure'), runState, tankPressure, power: channels.has('power') };
}

type Group = { readonly causes: readonly Cause[]; readonly toldApartBy: (sees: Sees) => boolean; readonly missing: (sees: Sees) => readonly BaseChannel[]; readonly says: string };

const missingElementPressures = (sees: Sees): BaseChannel[] => [...(sees.dischargePressure ? [] : (['discharge-pressure'] as const)), ...(sees.feedPressure ? [] : (['feed-pressure'] as const))];

/** Groups that stay together unless a channel parts them; the first whose condition fails and that holds the cause is reported. */
const GROUPS: readonly Group[] = [
  {
    causes: ['leak', 'bleed-left-open', 'check-valve-leaking', 'element-loading', 'element-missing', 'drain-stuck-open', 'drain-stuck-closed', 'compressor-side', 'membrane-decline', 'runs-without-end'],
    toldApartBy: (sees) => sees.split,
    missing: () => ['running'],
    says: "can't tell more demand from less delivery here: only run time is told; run state, or a tank pressure that shows its fillings, would tell",
  },
  {
    causes: ['element-loading', 'drain-stuck-open', 'drain-stuck-closed', 'compressor-side', 'bleed-left-open', 'membrane-decline'],
    toldApartBy: (sees) => sees.purity || sees.elementPressures,
    missing: (sees) => ['nitrogen', ...missingElementPressures(sees)],
    says: "can't tell elements, drain, compressor and membrane apart here: no nitrogen reading and no pressure before and after the elements",
  },
  {
    causes: ['element-loading', 'drain-stuck-open', 'drain-stuck-closed', 'compressor-side', 'bleed-left-open'],
    toldApartBy: (sees) => sees.elementPressures,
    missing: missingElementPressures,
    says: "can't tell elements, drain and compressor apart here: no pressure before and after the elements",
  },
  {
    causes: ['membrane-decline', 'drain-stuck-closed'],
    toldApartBy: (sees) => sees.elementPressures,
    missing: missingElementPressures,
    says: "can't tell a membrane that declines from one that a full bowl's water reaches here: no pressure before and after the elements",
  },
  {
    causes: ['set-point-changed', 'sensor-fault'],
    toldApartBy: (sees) => !sees.tankPressure || sees.dischargePressure || sees.feedPressure,
    missing: missingElementPressures,
    says: "can't tell a switch that was turned from a tank gauge that reads off here: no pressure before or after the elements",
  },
  {
    causes: ['runs-without-end', 'bleed-left-open', 'valve-left-shut'],
    toldApartBy: (sees) => sees.tankPressure,
    missing: () => ['tank-pressure'],
    says: "can't tell, of a run that doesn't end since a visit, a switch that doesn't open from a bleed that stands open or a valve that is shut before the tank: tank pressure is not sent",
  },
  {
    causes: ['valve-left-shut', 'supply-bypassed'],
    toldApartBy: (sees) => sees.systemPressure,
    missing: () => ['system-pressure'],
    says: "can't tell a valve that is shut from another supply that feeds the piping here: piping pressure is not sent",
  },
  {
    causes: ['data-gap', 'no-power'],
    toldApartBy: (sees) => sees.power,
    missing: () => ['power'],
    says: "can't tell a gateway or network that is down from mains that are off here: mains power is not sent",
  },
];

/** The causes that these channels can't tell from `cause` (itself included), what would tell them, and the sentence; `undefined` when it stands alone. */
export function groupOf(cause: Cause, sees: Sees): { readonly among: readonly Cause[]; readonly missingChannels: readonly BaseChannel[]; readonly says: string } | undefined {
  const group = GROUPS.find((one) => one.causes.includes(cause) && !one.toldApartBy(sees));
  return group && { among: group.causes, missingChannels: group.missing(sees), says: group.says };
}

/** Everything that these channels can't tell, in sentences; what a wider one says is not said again. */
export function cannotTell(sees: Sees): string[] {
  const together = GROUPS.filter((group) => !group.toldApartBy(sees));
  const isWithin = (group: Group, wider: Group): boolean => wider !== group && group.causes.every((cause) => wider.causes.includes(cause));
  return [
    ...together.filter((group) => !together.some((wider) => isWithin(group, wider))).map((group) => group.says),
    ...(sees.systemPressure ? [] : ["can't promise to see a shut valve before the piping sags: piping pressure is not sent"]),
  ];
}
