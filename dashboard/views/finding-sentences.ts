import type { Evidence, Finding, RankingRow } from '../../shared/finding.ts';
import { probabilityOf } from './cause-words.ts';
import { amongWords, CAUSE_WORDS, sureWords } from './domain-words.ts';
import { percentWords } from './number-words.ts';
import { dateWords, timeWords } from './site-time.ts';

/** The cause with how sure: `Leak (likely, 84 %)`; of several that can't be told apart, how sure it is one of them. */
export function causeSentence(finding: Pick<Finding, 'cause' | 'causes' | 'among'>): string {
  const name = finding.cause === 'undetermined' && finding.among !== null ? `Can't tell which: ${amongWords(finding.among)}` : CAUSE_WORDS[finding.cause];
  return `${name} (${sureWords(probabilityOf(finding))})`;
}

/** Since when it is so, with the range, and when it could be known. */
export function onsetSentence(finding: Pick<Finding, 'onset' | 'openedAt'>, zone: string, nowMs: number): string {
  const { earliest, likely, latest } = finding.onset;
  const day = (iso: string): string => dateWords(Date.parse(iso), zone, nowMs);
  const range = earliest !== null && latest !== null && day(earliest) !== day(latest) ? ` (between ${day(earliest)} and ${day(latest)})` : '';
  const since = likely === null ? 'Start unknown' : `Since about ${day(likely)}${range}`;
  return `${since}; found ${timeWords(Date.parse(finding.openedAt), zone)}.`;
}

/** What moved against the baseline, in words a person would say. */
export function movedSentence(row: Pick<RankingRow, 'dutyRatio' | 'baselineDutyRatio' | 'demandChange' | 'deliveryChange'>): string {
  const parts: string[] = [];
  if (row.dutyRatio !== null) parts.push(row.baselineDutyRatio === null ? `It runs ${percentWords(row.dutyRatio)} of the time` : `It runs ${percentWords(row.dutyRatio)} of the time, ${percentWords(row.baselineDutyRatio)} at its baseline`);
  if (row.demandChange !== null) parts.push(moved(row.demandChange, 'drawn'));
  if (row.deliveryChange !== null) parts.push(moved(row.deliveryChange, 'delivered'));
  return parts.length === 0 ? 'What moved against the baseline is not known.' : `${parts.join('; ')}.`;
}

function moved(change: number, verb: string): string {
  const percent = Math.abs(Math.round(change * 100));
  return percent === 0 ? `as much is ${verb} as before` : `${percent}\u00a0% ${change > 0 ? 'more' : 'less'} is ${verb}`;
}

/** Evidence for the main cause and against it, strongest first. */
export function evidenceSides(finding: Pick<Finding, 'cause' | 'evidence' | 'among'>): { readonly speaksFor: readonly Evidence[]; readonly speaksAgainst: readonly Evidence[] } {
  const main = new Set([finding.cause, ...(finding.among ?? [])]);
  const strongest = [...finding.evidence].sort((a, b) => Math.abs(b.weight) - Math.abs(a.weight));
  const supports = (one: Evidence): boolean => (main.has(one.for) ? one.weight >= 0 : one.weight < 0);
  return { speaksFor: strongest.filter(supports), speaksAgainst: strongest.filter((one) => !supports(one)) };
}

/** How much a piece of evidence weighs, from its log likelihood ratio: 1 is about 3 to 1, 3 about 20 to 1. */
export function weightWords(weight: number): string {
  const size = Math.abs(weight);
  return size >= 3 ? 'strong' : size >= 1 ? 'fair' : 'weak';
}
