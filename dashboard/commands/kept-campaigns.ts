import { mkdirSync, readdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { ScoreTable } from '../../analysis/scoring/score-table.ts';
import { type AnalysisSettings, hashOfSettings } from '../../shared/analysis-settings.ts';
import type { CampaignPoint, KeptCampaign } from '../../shared/world-replay.ts';

/** Beside the finished worlds: what was added up of each campaign. */
const TABLES = 'tables';
/** The page lists no more; older ones stay in the folder. */
const MOST_LISTED = 50;

export type CampaignSums = Omit<KeptCampaign, 'points'> & { readonly settings: readonly AnalysisSettings[]; readonly tables: readonly ScoreTable[] };

/** Keep what a campaign says, one file for each; the same campaign with the same settings replaces its own. */
export function keepCampaign(folder: string, { settings, tables, ...head }: CampaignSums): void {
  mkdirSync(join(folder, TABLES), { recursive: true });
  const file = join(folder, TABLES, `${head.id}.json`);
  const campaign: KeptCampaign = { ...head, points: tables.map((table, index) => pointOf(settings[index]!, table)) };
  writeFileSync(`${file}.new`, JSON.stringify({ campaign, tables }));
  renameSync(`${file}.new`, file);
}

/** Kept campaigns, newest first; what can't be read is passed over. */
export function keptCampaigns(folder: string): KeptCampaign[] {
  const kept = filesIn(join(folder, TABLES)).flatMap((file): KeptCampaign[] => {
    try {
      const { campaign } = JSON.parse(readFileSync(file, 'utf8')) as { readonly campaign?: KeptCampaign };
      return campaign !== undefined && Array.isArray(campaign.points) ? [campaign] : [];
    } catch {
      return [];
    }
  });
  return kept.sort((a, b) => (a.at < b.at ? 1 : -1)).slice(0, MOST_LISTED);
}

function filesIn(folder: string): string[] {
  try {
    return readdirSync(folder).filter((name) => name.endsWith('.json')).map((name) => join(folder, name));
  } catch {
    return [];
  }
}

function pointOf(settings: AnalysisSettings, { all, falseFindings, generatorYears, bySeverity }: ScoreTable): CampaignPoint {
  const { falseFindingsPerYear, baselineDays, smallestChange, horizonDays } = settings;
  return {
    settings: { falseFindingsPerYear, baselineDays, smallestChange, horizonDays }, hash: hashOfSettings(settings), generatorYears,
    faults: all.faults, found: all.found, missed: all.missed, causeRight: all.named, delayMedianH: all.delayMedianH,
    falseFindings: falseFindings.count, falsePerYear: { value: falseFindings.perYear, low: falseFindings.low, high: falseFindings.high },
    bySeverity: bySeverity.map(({ severity, faults, found, missed }) => ({ severity, faults, found, missed })),
  };
}
