import type { ReplayedFault, ReplayedFinding, ReplayKind, ReplayMeasure, ReplaySide, ReplaySummary } from '../../shared/world-replay.ts';
import { amongShort, CAUSE_WORDS } from './domain-words.ts';
import { percentWords } from './number-words.ts';

/** `14 h`, `3.2 d`: from the onset to the finding. */
export function delayWords(hours: number): string {
  return hours < 48 ? `${Math.round(hours)} h` : `${(hours / 24).toFixed(hours < 240 ? 1 : 0)} d`;
}

const NOT_FOUND: Readonly<Record<Exclude<ReplayedFault['outcome'], 'found' | 'laid-over'>, string>> = {
  missed: 'missed',
  unknowable: 'never showed itself',
  young: 'too young to be found',
  'behind-another': 'behind another of its family',
};

/** What became of a true fault: found or missed, after how long, and whether the cause was right. Of one that was laid over history only what was said next, never whether that is right. */
export function faultOutcomeWords(fault: ReplayedFault): string {
  if (fault.outcome === 'laid-over') return fault.delayH === null || fault.said === null ? 'no new finding opened after it' : `the next finding opened ${delayWords(fault.delayH)} later: ${CAUSE_WORDS[fault.said].toLowerCase()}`;
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
  unjudged: 'not judged',
};

export function replayedFindingWords(finding: ReplayedFinding): string {
  const said = finding.among === null || finding.among.length === 0 ? CAUSE_WORDS[finding.cause] : amongShort(finding.among);
  return `${said}, ${finding.probability >= 0.995 ? '> 99\u00a0%' : percentWords(finding.probability)}`;
}

/** `cold snap` for `cold-snap`. */
export function upsetWords(kind: string): string {
  return kind.replaceAll('-', ' ');
}

/** What was judged, in two sentences; a rate of so few years is told with its 95 % limits. */
export function replaySummaryWords(summary: ReplaySummary): string {
  const { faults, found, missed, apart, causeRight, delayMedianH, falseFindings, falsePerYear, generatorYears } = summary;
  const aside = apart === 0 ? '' : `; ${apart} not judged`;
  const first = faults === 0 ? 'Nothing was wrong.' : `Of ${faults} true ${faults === 1 ? 'fault' : 'faults'} ${found} found, ${missed} missed${aside}.${found === 0 ? '' : ` The cause was right ${causeRight} ${causeRight === 1 ? 'time' : 'times'} of ${found}${delayMedianH === null ? '' : `; ${found === 1 ? 'it was' : 'half were'} found within ${delayWords(delayMedianH)}`}.`}`;
  return `${first} ${falseFindings} false ${falseFindings === 1 ? 'finding' : 'findings'} in ${generatorYears.toFixed(1)} generator-years: between ${falsePerYear.low.toFixed(2)} and ${falsePerYear.high.toFixed(2)} a generator-year.`;
}

/** One side of a run in words: judged where the truth is known, else only counted. */
export function replaySideWords({ summary, generators }: ReplaySide): string {
  if (summary !== null) return replaySummaryWords(summary);
  const findings = generators.reduce((sum, one) => sum + one.findings.length, 0);
  const at = generators.filter((one) => one.findings.length > 0).length;
  return `${findings === 0 ? 'No finding' : findings === 1 ? '1 finding' : `${findings} findings`}${findings === 0 ? '' : ` at ${at} of ${generators.length} ${generators.length === 1 ? 'generator' : 'generators'}`}.`;
}

/** What a run works on, so that nobody takes it for what is going on: a word, and what to think of it. */
export const REPLAY_KIND_WORDS: Readonly<Record<ReplayKind, readonly [label: string, says: string]>> = {
  simulated: ['Simulated.', 'Sites, generators and faults are invented. Nothing of it is kept.'],
  history: ['What-if on real history.', 'Readings are those that were received here; the findings are not those of the Overview. The analysis starts without a past at the beginning of the stretch and learns anew what is normal; what people closed is left out; what was true nobody knows, so nothing is judged. Nothing of it is kept.'],
  rebuilt: ['Rebuilt.', 'Generators are simulated again from their stored days of demand and delivery, with a fault laid over them that never was. Each day keeps its mean; weather, tests and what happened within a day are not rebuilt. Never scored, and nothing of it is kept.'],
};

/** The fields of the settings, as a form and a table name them. */
export const REPLAY_SETTING_WORDS = {
  falseFindingsPerYear: 'False findings a generator-year that may be paid',
  baselineDays: 'Days of a baseline',
  smallestChange: 'Smallest change worth a finding, ln',
  horizonDays: 'Forecasts look ahead, days',
} as const;

/** A figure of a comparison with its unit. */
export function measureWords({ measure }: ReplayMeasure, value: number | null): string {
  if (value === null) return '–';
  if (measure.endsWith(', h')) return delayWords(value);
  if (measure.includes('share') || measure.startsWith('named')) return percentWords(value);
  return String(Math.round(value * 1000) / 1000);
}
