import { openAnalysis } from '../../../analysis/analysis.ts';
import { judgeGenerator, type JudgedFinding } from '../../../analysis/scoring/judge-generator.ts';
import { otherEvents, truthForScoring } from '../../../dashboard/commands/score-run.ts';
import { DEFAULT_ANALYSIS_SETTINGS } from '../../../shared/analysis-settings.ts';
import { baseChannel } from '../../../shared/channels.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { seesOf } from '../../../shared/distinguish.ts';
import type { Finding, RankingReport } from '../../../shared/finding.ts';
import { splitGeneratorKey } from '../../../shared/ids.ts';
import { SILENT_LOG } from '../../../shared/log.ts';
import { openMemoryReadings } from '../../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../../shared/store/memory-records.ts';
import { DAY_MS } from '../../../shared/time.ts';
import { parseScenarioFile } from '../../../simulator/scenario-file.ts';
import { scenarioOfFile } from '../../../simulator/scenario-of-file.ts';
import { worldTruth } from '../../../simulator/truth.ts';
import { startWorld, stepWorld, type World } from '../../../simulator/world.ts';

export const START_MS = Date.UTC(2026, 2, 2);

export type Lived = {
  /** Findings in order of opening. */
  readonly findings: readonly Finding[];
  readonly judged: readonly JudgedFinding[];
  readonly days: readonly DayRow[];
  /** Run seconds of each day by the plant's own book. */
  readonly ranS: readonly number[];
};

/** From and until which day the registry has a generator out of service. */
type OffDays = Readonly<Record<string, readonly [from: number, until: number]>>;

/** What the registry is told meanwhile: that some are out of service, and that they are back. */
function takenOff({ scenario }: World, startMs: number, offDays: OffDays): ReturnType<typeof otherEvents> {
  const times = [...new Set(Object.values(offDays).flat())].sort((a, b) => a - b);
  return times.flatMap((day) => scenario.registry.sites.map((site) => {
    const atMs = startMs + day * DAY_MS;
    const generators = site.generators.map((one) => ({ ...one, outOfService: day >= (offDays[one.id]?.[0] ?? Infinity) && day < offDays[one.id]![1] }));
    return { atMs, event: { kind: 'registry', atMs, change: { validFromMs: atMs, recordedAtMs: atMs, by: 'test', site: { ...site, generators } } } as const };
  }));
}

/** Restarts happen at the end of these days. */
type How = { readonly seed?: number; readonly startMs?: number; readonly restarts?: readonly number[]; readonly offDays?: OffDays };

/** Live a world of a scenario file, hand it to the analysis in order of receipt, and judge what was found of each generator against its truth. */
export async function lived(text: string, { seed = 3, startMs = START_MS, restarts = [], offDays = {} }: How = {}): Promise<{ readonly of: ReadonlyMap<string, Lived>; readonly report: RankingReport }> {
  const parsed = parseScenarioFile(text);
  if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
  const world = startWorld({ scenario: scenarioOfFile(parsed.file, startMs), seed, startMs });
  const [readings, records] = [openMemoryReadings(), openMemoryRecords()];
  const open = () => openAnalysis({ readings, records, settings: DEFAULT_ANALYSIS_SETTINGS, log: SILENT_LOG });
  let analysis = await open();
  const untilMs = startMs + parsed.file.days * DAY_MS;
  const others = [...otherEvents(world, untilMs), ...takenOff(world, startMs, offDays)].sort((a, b) => a.atMs - b.atMs);
  const handOver = async (toMs: number): Promise<void> => {
    const { kept } = await readings.append(stepWorld(world, toMs));
    await analysis.feed({ kind: 'readings', batch: kept });
  };
  const ranS = world.generators.map((): number[] => []);
  let next = 0;
  for (let day = 1; day <= parsed.file.days; day += 1) {
    const before = world.generators.map((one) => one.plant.runS);
    for (; next < others.length && others[next]!.atMs < startMs + day * DAY_MS; next += 1) {
      const { atMs, event } = others[next]!;
      await handOver(Math.max(world.nowMs, atMs));
      if (event.kind === 'entry') await records.saveEntry(event.entry, 'test');
      else if (event.kind === 'registry') await records.recordRegistryChange(event.change);
      await analysis.feed(event);
    }
    await handOver(startMs + day * DAY_MS);
    world.generators.forEach((one, index) => ranS[index]!.push(one.plant.runS - before[index]!));
    if (!restarts.includes(day)) continue;
    await analysis.advanceTo(startMs + day * DAY_MS);
    analysis = await open();
  }
  await analysis.advanceTo(untilMs);
  const truth = truthForScoring(worldTruth(world));
  const report = analysis.report();
  const of = new Map<string, Lived>();
  for (const [index, one] of world.scenario.generators.entries()) {
    const place = splitGeneratorKey(one.key);
    const own = <T extends { readonly site: string; readonly generator: string }>(list: readonly T[]): T[] => list.filter((item) => item.site === place.site && item.generator === place.generator);
    const judged = judgeGenerator({ faults: own(truth.faults), upsets: own(truth.upsets), sees: seesOf(new Set(one.channels.map(baseChannel))), untilMs }, own(report.findings)).findings;
    of.set(one.key, { findings: judged.map((found) => found.finding), judged, days: await records.days({ generator: one.key }), ranS: ranS[index]! });
  }
  return { of, report };
}
