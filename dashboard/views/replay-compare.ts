import type { ReplayedFinding, ReplayedGenerator, ReplaySide } from '../../shared/world-replay.ts';
import { delayWords, replayedFindingWords } from './replay-words.ts';

/** A finding of both sides, or of one alone; `says` what the other settings change of it. */
export type FindingPair = { readonly site: string; readonly generator: string; readonly zone: string; readonly a: ReplayedFinding | null; readonly b: ReplayedFinding | null; readonly says: string };

const HOUR_MS = 3_600_000;
/** Findings of one cause within this are taken for the same; with another cause they must be nearer. Our choice. */
const SAME_CAUSE_MS = 14 * 24 * HOUR_MS;
const OTHER_CAUSE_MS = 3 * 24 * HOUR_MS;

/** What two choices of settings found in the same input, put side by side in order of time. */
export function findingPairs(first: ReplaySide, other: ReplaySide): FindingPair[] {
  return first.generators.flatMap((one, index) => {
    const twin = other.generators[index];
    return pairsOf(one, twin?.findings ?? []);
  });
}

/** The nearest two are paired first, those of one cause before all others. */
function pairsOf(one: ReplayedGenerator, others: readonly ReplayedFinding[]): FindingPair[] {
  const { site, generator, zone } = one;
  const near = one.findings.flatMap((a) => others.map((b) => ({ a, b, apartMs: Math.abs(openedMs(b) - openedMs(a)), other: Number(b.cause !== a.cause) }))).filter(({ apartMs, other }) => apartMs <= (other === 0 ? SAME_CAUSE_MS : OTHER_CAUSE_MS));
  const mates = new Map<ReplayedFinding, ReplayedFinding>();
  const taken = new Set<ReplayedFinding>();
  for (const { a, b } of near.sort((x, y) => x.other - y.other || x.apartMs - y.apartMs)) {
    if (mates.has(a) || taken.has(b)) continue;
    mates.set(a, b);
    taken.add(b);
  }
  const pairs = one.findings.map((a): FindingPair => {
    const b = mates.get(a);
    return { site, generator, zone, a, b: b ?? null, says: b === undefined ? 'only A' : pairWords(a, b) };
  });
  const alone = others.filter((b) => !taken.has(b)).map((b): FindingPair => ({ site, generator, zone, a: null, b, says: 'only B' }));
  return [...pairs, ...alone].sort((x, y) => openedMs(x.a ?? x.b) - openedMs(y.a ?? y.b));
}

function openedMs(finding: ReplayedFinding | null): number {
  return finding === null ? 0 : Date.parse(finding.openedAt);
}

function pairWords(a: ReplayedFinding, b: ReplayedFinding): string {
  const hours = (openedMs(b) - openedMs(a)) / HOUR_MS;
  const when = Math.abs(hours) < 0.5 ? 'at the same time' : `B ${delayWords(Math.abs(hours))} ${hours < 0 ? 'earlier' : 'later'}`;
  return a.cause === b.cause ? when : `${when}, another cause: ${replayedFindingWords(b)}`;
}
