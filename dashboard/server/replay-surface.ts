import type { KeptCampaign, ReplayAsked, ReplayChoices, ReplayResult, ReplayRun } from '../../shared/world-replay.ts';

/** Why a replay was not started: what was asked for is wrong, or another one is on its way. */
export type NotStarted = { readonly problems: readonly string[] } | { readonly busy: ReplayRun };

/** What the engineer's page needs: replays run one at a time beside the server, never in its stores, and campaigns that were kept. */
export type ReplaySurface = {
  choices(): Promise<ReplayChoices>;
  start(asked: ReplayAsked): Promise<{ readonly run: ReplayRun } | NotStarted>;
  /** The newest run, also after its end; kept in memory only. */
  current(): ReplayRun | undefined;
  result(): ReplayResult | undefined;
  /** Ends the run of this id if it is on its way; gives the run as it is then, or `undefined` if the newest is another one. */
  cancel(id: string): ReplayRun | undefined;
  /** Campaigns of the score command, newest first. */
  campaigns(): readonly KeptCampaign[];
};
