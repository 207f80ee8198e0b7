import { type Cause, CAUSES } from '../../shared/finding.ts';
import { CHANNEL_CLASSES, type ChannelClass } from './channel-class.ts';
import { type DiagnosisBars, diagnosisBars } from './diagnosis-bars.ts';
import { quantileOf } from './quantile.ts';
import { type Rate, rateOf } from './rate.ts';
import { type Reliability, reliabilityOf } from './reliability.ts';
import { type ForecastScore, scoreForecasts } from './score-forecasts.ts';
import { rankingShare } from './score-ranking.ts';
import type { FaultRow, FindingRow, WorldScore } from './score-world.ts';

export type Counted = {
  readonly faults: number;
  readonly found: number;
  readonly missed: number;
  /** Of the found: named itself, or as exactly the group that the channels leave. When opened, when judged, at the end. */
  readonly named: number;
  readonly namedAtOpening: number;
  readonly namedAtEnd: number;
  /** Neither found nor missed: too young, never to be known, behind another of its family. */
  readonly apart: number;
  readonly foundShare: number | null;
  /** From the onset to the first finding that fits, h. */
  readonly delayMedianH: number | null;
  readonly delay90H: number | null;
  /** Middle change of run time in the week before it was found, |ln|. */
  readonly effectAtFinding: number | null;
};
export type CauseRow = Counted & { readonly cause: Cause; /** Findings that named it and were false, and of how many generators: they come in spells. */ readonly falseFindings: number; readonly falseGenerators: number };
export type CurvePoint = { readonly from: number; /** null = without bound. */ readonly to: number | null; readonly faults: number; readonly found: number; readonly share: number };
export type ConfusionCell = { readonly truth: Cause | 'none'; readonly said: Cause | 'nothing'; readonly count: number };

/** Everything that a campaign says, added up over its worlds. */
export type ScoreTable = {
  readonly worlds: number;
  readonly generators: number;
  readonly generatorYears: number;
  readonly diagnosis: DiagnosisBars;
  readonly all: Counted;
  readonly byCause: readonly CauseRow[];
  readonly bySeverity: readonly (Counted & { readonly severity: string })[];
  readonly byChannels: readonly (Counted & { readonly sends: ChannelClass })[];
  /** All false findings over all time, and those of generators in good order over the time in good order. */
  readonly falseFindings: Rate;
  readonly falseWhileHealthy: Rate;
  /** Of how many generators the false findings are. */
  readonly falseGenerators: number;
  readonly excused: number;
  readonly confusion: readonly ConfusionCell[];
  readonly reliability: Reliability;
  readonly curve: readonly CurvePoint[];
  readonly forecasts: ForecastScore;
  readonly ranking: { readonly share: number | null; readonly times: number };
};

/** Bounds of the curve: change of run time, as a share of it. */
const EFFECT_BOUNDS: readonly number[] = [0, 0.02, 0.05, 0.1, 0.2, 0.5, 1];

export function scoreTable(worlds: readonly WorldScore[]): ScoreTable {
  const faults = worlds.flatMap((world) => world.faults);
  const findings = worlds.flatMap((world) => world.findings);
  const sum = (value: (world: WorldScore) => number): number => worlds.reduce((total, world) => total + value(world), 0);
  const wrong = worlds.flatMap((world, index) => world.findings.filter((one) => one.outcome === 'false').map((one): WrongRow => ({ ...one, of: `${index} ${one.site}/${one.generator}` })));
  const generatorYears = sum((world) => world.generatorYears);
  const rankings = worlds.flatMap((world) => world.rankings);
  return {
    worlds: worlds.length,
    generators: sum((world) => world.generators),
    generatorYears,
    diagnosis: diagnosisBars(worlds),
    all: countOf(faults),
    byCause: CAUSES.flatMap((cause) => causeRow(cause, faults, wrong)),
    bySeverity: [...new Set(faults.map((fault) => fault.severity))].sort((a, b) => SEVERITY_ORDER.indexOf(a) - SEVERITY_ORDER.indexOf(b)).map((severity) => ({ severity, ...countOf(faults.filter((fault) => fault.severity === severity)) })),
    byChannels: CHANNEL_CLASSES.map((sends) => ({ sends, ...countOf(faults.filter((fault) => fault.sends === sends)) })),
    falseFindings: rateOf(wrong.length, generatorYears),
    falseWhileHealthy: rateOf(wrong.filter((one) => !one.duringFault).length, sum((world) => world.healthyYears)),
    falseGenerators: generatorsOf(wrong),
    excused: findings.filter((one) => one.outcome === 'excused' || one.outcome === 'late').length,
    confusion: confusionOf(faults, wrong),
    reliability: reliabilityOf(findings.filter((one) => one.outcome !== 'excused' && one.outcome !== 'late').map((one) => ({ probability: one.judged.probability, right: one.outcome === 'right' }))),
    curve: curveOf(faults),
    forecasts: scoreForecasts(worlds.flatMap((world) => world.forecasts)),
    ranking: { share: rankingShare(rankings), times: rankings.length },
  };
}

const SEVERITY_ORDER = ['barely', 'plain', 'marked', 'urgent'];

export function countOf(faults: readonly FaultRow[]): Counted {
  const found = faults.filter((fault) => fault.outcome === 'found');
  const missed = faults.filter((fault) => fault.outcome === 'missed').length;
  const delays = found.flatMap((fault) => fault.delayH ?? []);
  return {
    faults: faults.length,
    found: found.length,
    missed,
    named: found.filter((fault) => fault.fit === 'right').length,
    namedAtOpening: found.filter((fault) => fault.fitAtOpening === 'right').length,
    namedAtEnd: found.filter((fault) => fault.fitAtEnd === 'right').length,
    apart: faults.length - found.length - missed,
    foundShare: found.length + missed === 0 ? null : found.length / (found.length + missed),
    delayMedianH: quantileOf(delays, 0.5) ?? null,
    delay90H: quantileOf(delays, 0.9) ?? null,
    effectAtFinding: quantileOf(found.flatMap((fault) => fault.effectAtFinding ?? []), 0.5) ?? null,
  };
}

type WrongRow = FindingRow & { readonly of: string };

const generatorsOf = (wrong: readonly WrongRow[]): number => new Set(wrong.map((one) => one.of)).size;

function causeRow(cause: Cause, faults: readonly FaultRow[], wrong: readonly WrongRow[]): CauseRow[] {
  const own = faults.filter((fault) => fault.cause === cause);
  const named = wrong.filter((one) => one.judged.cause === cause);
  return own.length === 0 && named.length === 0 ? [] : [{ cause, ...countOf(own), falseFindings: named.length, falseGenerators: generatorsOf(named) }];
}

/** What was true against what was said when judged; false findings stand in the row `none`, missed faults in the column `nothing`. */
function confusionOf(faults: readonly FaultRow[], wrong: readonly FindingRow[]): ConfusionCell[] {
  const pairs: [Cause | 'none', Cause | 'nothing'][] = [
    ...faults.flatMap((fault): [Cause, Cause | 'nothing'][] => (fault.outcome === 'found' && fault.said !== null ? [[fault.cause, fault.said.cause]] : fault.outcome === 'missed' ? [[fault.cause, 'nothing']] : [])),
    ...wrong.map((one): ['none', Cause] => ['none', one.judged.cause]),
  ];
  const counts = new Map<string, ConfusionCell>();
  for (const [truth, said] of pairs) counts.set(`${truth} ${said}`, { truth, said, count: (counts.get(`${truth} ${said}`)?.count ?? 0) + 1 });
  return [...counts.values()].sort((a, b) => b.count - a.count || (a.truth < b.truth ? -1 : 1));
}

/** Found-share against the largest weekly change of run time, for faults whose effect is known. */
function curveOf(faults: readonly FaultRow[]): CurvePoint[] {
  return EFFECT_BOUNDS.flatMap((from, index) => {
    const to = EFFECT_BOUNDS[index + 1] ?? null;
    const judged = faults.filter((fault) => (fault.outcome === 'found' || fault.outcome === 'missed') && fault.effect !== null && Math.expm1(fault.effect) >= from && Math.expm1(fault.effect) < (to ?? Infinity));
    if (judged.length === 0) return [];
    const found = judged.filter((fault) => fault.outcome === 'found').length;
    return [{ from, to, faults: judged.length, found, share: found / judged.length }];
  });
}
