import type { FaultRow, FindingRow, WorldScore } from './score-world.ts';
import type { Said } from './said.ts';

/** A world as it is told one by one; only ever for tuning seeds and for recordings. */
export type NamedWorld = { readonly name: string; readonly score: WorldScore };

/** Sentences of evidence told for a false finding. */
const SENTENCES = 4;

function saidWords({ cause, among, probability }: Said): string {
  return `${cause}${among === null ? '' : ` (${among.join(', ')})`} ${Math.round(probability * 100)} %`;
}

function wrongLine(finding: FindingRow): string {
  const told = [...finding.evidence].sort((a, b) => b.weight - a.weight).slice(0, SENTENCES).map((one) => `      ${one.weight.toFixed(1).padStart(5)} ${one.for}: ${one.says}`);
  return [`  ${finding.site}/${finding.generator} ${finding.openedAt.slice(0, 16)} to ${finding.closedAt?.slice(0, 16) ?? 'open'}: ${saidWords(finding.judged)}${finding.duringFault ? ', while something else was the matter' : ''}`, ...told].join('\n');
}

function missedLine(fault: FaultRow): string {
  const effect = fault.effect === null ? 'run time not known' : `run time changed by ${Math.round(Math.expm1(fault.effect) * 100)} % at most`;
  return `  ${fault.site}/${fault.generator} ${fault.cause}, ${fault.severity} ${fault.shape}, ${fault.onset.slice(0, 16)} to ${fault.end?.slice(0, 16) ?? 'the end'}: ${effect}`;
}

/** Every false finding with its evidence, every missed fault, and every fault that was found under another name. */
export function listText(worlds: readonly NamedWorld[]): string {
  return worlds
    .flatMap(({ name, score }) => {
      const wrong = score.findings.filter((finding) => finding.outcome === 'false').map(wrongLine);
      const missed = score.faults.filter((fault) => fault.outcome === 'missed').map(missedLine);
      const renamed = score.faults.filter((fault) => fault.outcome === 'found' && fault.fit !== 'right').map((fault) => `${missedLine(fault)}; said ${fault.said === null ? '–' : saidWords(fault.said)}`);
      return [name, ` false findings: ${wrong.length}`, ...wrong, ` missed: ${missed.length}`, ...missed, ` found under another name: ${renamed.length}`, ...renamed, ''];
    })
    .join('\n');
}
