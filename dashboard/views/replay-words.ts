import type { ReplayedFault, ReplayedFinding, ReplayResult } from '../../shared/world-replay.ts';
import { amongShort, CAUSE_WORDS } from './domain-words.ts';
import { percentWords } from './number-words.ts';

/** `14 h`, `3.2 d`: from the onset to the finding. */
export function delayWords(hours: number): string {
  return hours < 48 ? `${Math.round(hours)} h` : `${(hours / 24).toFixed(hours < 240 ? 1 : 0)} d`;
}

const NOT_FOUND: Readonly<Record<Exclude<ReplayedFault['outcome'], 'found'>, string>> = {
  missed: 'missed',
  unknowable: 'never showed itself',
  young: 'too young to be found',
  'behind-another': 'behind another of its family',
};

/** What became of a true fault: found or missed, after how long, and whether the cause was right. */
export function faultOutcomeWords(fault: ReplayedFault): string {
  if (fault.outcome !== 'found') return NOT_FOUND[fault.outcome];
  const delay = fault.delayH === null ? 'found' : `found after ${delayWords(fault.delayH)}`;
  if (fault.causeRight === true) return `${delay}, cause right`;
  return `${delay}, cause wrong: ${fault.said === null ? 'not said' : CAUSE_WORDS[fault.said].toLowerCase()}`;
}

export function faultWords(fault: ReplayedFault): string {
  return `${CAUSE_WORDS[fault.cause]}, ${fault.severity}`;
}

export const OUTCOME_WORDS: Readonly<Record<ReplayedFinding['outcome'], string>> = {
  right: 'right',
  family: 'right family, other cause',
  excused: 'excused by what happened to it',
  late: 'late, the fault was just mended',
  false: 'false',
};

export function replayedFindingWords(finding: ReplayedFinding): string {
  const said = finding.among === null || finding.among.length === 0 ? CAUSE_WORDS[finding.cause] : amongShort(finding.among);
  return `${said}, ${percentWords(finding.probability)}`;
}

/** `cold snap` for `cold-snap`. */
export function upsetWords(kind: string): string {
  return kind.replaceAll('-', ' ');
}

/** The whole run in two sentences; a rate of so few years is told with its 95 % limits. */
export function replaySummaryWords({ summary }: ReplayResult): string {
  const { faults, found, missed, apart, causeRight, delayMedianH, falseFindings, falsePerYear, generatorYears } = summary;
  const aside = apart === 0 ? '' : `; ${apart} not judged`;
  const first = faults === 0 ? 'Nothing was wrong.' : `Of ${faults} true ${faults === 1 ? 'fault' : 'faults'} ${found} found, ${missed} missed${aside}.${found === 0 ? '' : ` The cause was right ${causeRight} ${causeRight === 1 ? 'time' : 'times'} of ${found}${delayMedianH === null ? '' : `; half were found within ${delayWords(delayMedianH)}`}.`}`;
  return `${first} ${falseFindings} false ${falseFindings === 1 ? 'finding' : 'findings'} in ${generatorYears.toFixed(1)} generator-years: between ${falsePerYear.low.toFixed(2)} and ${falsePerYear.high.toFixed(2)} a generator-year.`;
}
