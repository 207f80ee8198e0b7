import { useEffect, useState } from 'preact/hooks';
import type { KeptCampaign, ReplayAsked, ReplayChoices, ReplayResult, ReplayRun } from '../../../shared/world-replay.ts';
import { percentWords } from '../../views/number-words.ts';
import { REPLAY_KIND_WORDS } from '../../views/replay-words.ts';
import { get, post } from '../api.ts';
import { Campaigns } from '../parts/campaigns.tsx';
import { ReplayForm } from '../parts/replay-form.tsx';
import { ReplayResultPart } from '../parts/replay-result.tsx';
import { useResource } from '../use-resource.ts';

/** While a run is on its way it is asked for so often. */
const ASK_EVERY_MS = 500;

type Current = { readonly run: ReplayRun | null };

/** The engineer's page: an invented world or a stretch of history, and what the analysis of this program finds in it, under settings of choice. */
export function ReplayPage() {
  const choices = useResource<ReplayChoices>('replay scenarios', () => get('/replays/scenarios'));
  const current = useResource<Current>('replay current', () => get('/replays/current'));
  const campaigns = useResource<{ readonly campaigns: readonly KeptCampaign[] }>('replay campaigns', () => get('/replays/campaigns'));
  const [problem, setProblem] = useState<string | undefined>(undefined);
  const run = current.value?.run ?? null;
  const running = run?.state === 'running';
  const { reload } = current;
  useEffect(() => {
    document.title = 'Replay · Lull';
  }, []);
  useEffect(() => {
    if (!running) return undefined;
    const timer = window.setInterval(reload, ASK_EVERY_MS);
    return () => window.clearInterval(timer);
  }, [running, reload]);
  const tell = async (work: () => Promise<unknown>): Promise<void> => {
    setProblem(undefined);
    try {
      await work();
    } catch (error) {
      setProblem(error instanceof Error ? error.message : String(error));
    }
    reload();
  };
  return (
    <>
      <h1>Replay</h1>
      <p class="banner banner-simulated">
        <strong>Nothing here is going on now.</strong> Invented worlds, what-ifs on history, and faults laid over it. They run beside the live analysis, one at a time, and nothing of them is kept.
      </p>
      {(problem ?? choices.error ?? current.error ?? campaigns.error) !== undefined && (
        <p class="problem replay-problems" role="alert">
          {problem ?? choices.error ?? current.error ?? campaigns.error}
        </p>
      )}
      {choices.value === undefined && choices.error === undefined && <p class="quiet">Loading what can be replayed…</p>}
      {choices.value !== undefined && <ReplayForm choices={choices.value} busy={running} onAsk={(asked: ReplayAsked) => void tell(() => post('/replays', asked))} />}
      {run !== null && <RunLine run={run} onCancel={() => void tell(() => post('/replays/cancel', { id: run.id }))} />}
      {run?.state === 'done' && <DonePart key={run.id + run.startedAt} run={run} history={choices.value?.history ?? []} />}
      {campaigns.value !== undefined && <Campaigns campaigns={campaigns.value.campaigns} />}
    </>
  );
}

const DOING_WORDS: Readonly<Record<ReplayRun['doing'], string>> = { writing: 'writing down what is received', folding: 'decoding and analysing', 'folding-other': 'decoding and analysing with settings B' };

function RunLine({ run, onCancel }: { readonly run: ReplayRun; readonly onCancel: () => void }) {
  const [label] = REPLAY_KIND_WORDS[run.kind];
  const world = `${label} “${run.name}”, ${run.generators} ${run.generators === 1 ? 'generator' : 'generators'}, ${run.days} days`;
  if (run.state === 'failed') return <p class="problem" role="alert">{world}: {run.problem}</p>;
  if (run.state === 'cancelled') return <p role="status">{world}: cancelled at {percentWords(run.ratio)}.</p>;
  if (run.state === 'done') return <p class="done" role="status">{world}: done.</p>;
  return (
    <section aria-label="The run on its way">
      <p>
        {world}: {percentWords(run.ratio)}, {DOING_WORDS[run.doing]} <button type="button" onClick={onCancel}>Cancel</button>
      </p>
      <progress class="replay-progress" aria-label="Share of its work" max={1} value={run.ratio} />
    </section>
  );
}

function DonePart({ run, history }: { readonly run: ReplayRun; readonly history: ReplayChoices['history'] }) {
  // An invented world may have ids that stand for somebody else here.
  const names = new Map(run.kind === 'simulated' ? [] : history.map((one) => [`${one.site}/${one.generator}`, `${one.siteName}, ${one.generatorName}`]));
  const result = useResource<ReplayResult>(`replay result ${run.id} ${run.startedAt}`, () => get('/replays/current/result'));
  if (result.error !== undefined) return <p class="problem" role="alert">{result.error}</p>;
  return result.value === undefined ? <p class="quiet">Loading what was found…</p> : <ReplayResultPart result={result.value} names={names} />;
}
