import { useEffect, useState } from 'preact/hooks';
import type { CheckAnswer, ReadingsAnswer } from '../../../shared/api.ts';
import type { Visit } from '../../../shared/visit.ts';
import { leavingHeadline, runBegunSince } from '../../views/leaving-headline.ts';
import { timeWords } from '../../views/site-time.ts';
import { get, post, query } from '../api.ts';
import type { Draft } from './draft.ts';
import { visitNowMs } from './visit-clock.ts';

const ASK_EVERY_MS = 1500;
const PATIENCE_MS = 60_000;
const HOUR_MS = 3_600_000;

/** A run state holds so long without a word, so that the reading before is found. */
const STATE_HOLDS_MS = 75 * 60_000;

type Asked = { readonly busy: boolean; readonly answer: CheckAnswer | undefined; readonly problem: string | undefined; /** Whether a run began after the work; undefined where that isn't known. */ readonly begunSince?: boolean | undefined };

/** Ask Lull to look at a generator now; the answer comes from the analysis, a moment later. */
async function look(site: string, generator: string): Promise<CheckAnswer> {
  let answer = await post<CheckAnswer>('/checks', { site, generator });
  for (let waitedMs = 0; answer.answeredAt === null && waitedMs < PATIENCE_MS; waitedMs += ASK_EVERY_MS) {
    await new Promise((resolve) => window.setTimeout(resolve, ASK_EVERY_MS));
    answer = await get<CheckAnswer>(`/checks/${encodeURIComponent(answer.id)}`);
  }
  return answer;
}

/** Whether the compressor started since then, by its run state as heard; undefined where none is sent. */
async function startedSince(site: string, generator: string, sinceMs: number): Promise<boolean | undefined> {
  const nowMs = visitNowMs();
  const answer = await get<ReadingsAnswer>(`/readings${query({ site, generator, channel: 'running', from: new Date(sinceMs - STATE_HOLDS_MS).toISOString(), to: new Date(nowMs).toISOString(), buckets: 500 })}`);
  return runBegunSince(answer.points, sinceMs);
}

function useLook(site: string, generator: string, sinceMs?: number): Asked & { readonly ask: () => void } {
  const [asked, setAsked] = useState<Asked>({ busy: false, answer: undefined, problem: undefined });
  const ask = (): void => {
    setAsked({ busy: true, answer: undefined, problem: undefined });
    const begun = sinceMs === undefined ? Promise.resolve(undefined) : startedSince(site, generator, sinceMs).catch(() => undefined);
    Promise.all([look(site, generator), begun]).then(
      ([answer, begunSince]) => setAsked({ busy: false, answer, begunSince, problem: answer.answeredAt === null ? 'Lull has not answered yet. Ask again.' : (answer.problem ?? undefined) }),
      () => setAsked({ busy: false, answer: undefined, problem: "No signal: Lull can't look. Go by your valve list and your gauges." }),
    );
  };
  return { ...asked, ask };
}

/** Before you leave: what Lull sees now, what it has not seen yet, and never more than that. */
export function BeforeYouLeave(props: { readonly draft: Draft; readonly generator: string }) {
  const { draft, generator } = props;
  const { busy, answer, problem, begunSince, ask } = useLook(draft.site, generator, workEndMs(draft, generator));
  return (
    <div class="leaving">
      <button type="button" class="primary" disabled={busy} onClick={ask}>
        {busy ? 'Lull is looking…' : 'Before you leave: let Lull look'}
      </button>
      <Answer answer={answer} problem={problem} begunSince={begunSince} zone={draft.cards[generator]?.detail.site.timeZone ?? 'UTC'} />
    </div>
  );
}

/** When the hands left the bowls: the run that is watched at the restart comes after it, and counts. */
function workEndMs(draft: Draft, generator: string): number | undefined {
  const steps = draft.work[generator]?.steps ?? {};
  const at = steps['work']?.doneAt ?? steps['relieve']?.doneAt ?? draft.startedAt;
  return at === null ? undefined : Date.parse(at);
}

function Answer(props: Pick<Asked, 'answer' | 'problem' | 'begunSince'> & { readonly zone: string }) {
  const check = props.answer?.check ?? undefined;
  const headline = check === undefined ? undefined : leavingHeadline(check, props.begunSince);
  return (
    <div role="status">
      {props.problem !== undefined && <p class="problem">{props.problem}</p>}
      {check !== undefined && headline !== undefined && (
        <>
          <p class={headline.tone === 'seen' ? 'done' : 'problem'}>
            <strong>{headline.says}</strong>
          </p>
          <ul>
            {check.items.map((item) => (
              <li key={item.part + item.says} class={item.state === 'unlike usual' ? 'odd' : ''}>
                {item.state === 'as usual' ? '' : `${item.state}: `}
                {item.says}
              </li>
            ))}
          </ul>
          {check.notSeen.length > 0 && (
            <>
              <p>Not seen in this look:</p>
              <ul>
                {check.notSeen.map((says) => (
                  <li key={says}>{says}</li>
                ))}
              </ul>
            </>
          )}
          <p class="quiet">
            {check.care} {check.toAt !== null && `Newest reading ${timeWords(Date.parse(check.toAt), props.zone)}.`}
          </p>
        </>
      )}
    </div>
  );
}

/** The second looks after a visit: when they are due, and, once they are, what Lull sees. */
export function SecondLooks(props: { readonly draft: Draft; readonly generator: string; readonly verified: (visit: Visit) => void }) {
  const { draft, generator } = props;
  const { busy, answer, problem, ask } = useLook(draft.site, generator);
  const [nowMs, setNowMs] = useState(visitNowMs);
  useEffect(() => {
    const timer = window.setInterval(() => setNowMs(visitNowMs()), 30_000);
    return () => window.clearInterval(timer);
  }, []);
  const zone = draft.cards[generator]?.detail.site.timeZone ?? 'UTC';
  // What analysis found when it looked by itself; renewed with the card whenever the visit is opened with signal.
  const found = (draft.cards[generator]?.detail.secondLooks ?? []).filter((one) => draft.finishedAt !== null && Math.abs(Date.parse(one.visitedAt) - Date.parse(draft.finishedAt)) < 60_000);
  const doneMs = draft.finishedAt === null ? undefined : Date.parse(draft.finishedAt);
  if (doneMs === undefined) return <p class="quiet">Their times are set when you record the visit.</p>;
  const due = [4, 24].map((hours) => ({ hours, atMs: doneMs + hours * HOUR_MS }));
  return (
    <div class="second-looks">
      <ul>
        {due.map(({ hours, atMs }) => (
          <li key={hours}>
            after {hours} h: {timeWords(atMs, zone)}, {nowMs < atMs ? 'not yet' : (found.find((one) => one.look === `${hours} h`)?.verdict ?? 'due')}
            {found.filter((one) => one.look === `${hours} h`).flatMap((one) => one.says).map((says) => (
              <span key={says} class="under">
                {says}
              </span>
            ))}
          </li>
        ))}
      </ul>
      {due.some(({ atMs }) => nowMs >= atMs) && (
        <button type="button" disabled={busy} onClick={ask}>
          {busy ? 'Lull is looking…' : 'What does Lull see now?'}
        </button>
      )}
      <Answer answer={answer} problem={problem} zone={zone} />
      {draft.plan?.state === 'recorded' && due.every(({ atMs }) => nowMs >= atMs) && <Verify draft={draft} plan={draft.plan} verified={props.verified} />}
      {draft.plan?.state === 'verified' && <p class="done">Verified by {draft.plan.updatedBy}.</p>}
    </div>
  );
}

/** Once both looks are past, a person says that they were looked at; Lull itself never says that a visit is in order. */
function Verify(props: { readonly draft: Draft; readonly plan: Visit; readonly verified: (visit: Visit) => void }) {
  const [said, setSaid] = useState('');
  const verify = (): void => {
    const { updatedAt: _at, updatedBy: _by, ...visit } = props.plan;
    post<Visit>('/trips', { ...visit, state: 'verified', by: props.draft.signedBy }).then(props.verified, (error: unknown) => setSaid(error instanceof Error ? error.message : String(error)));
  };
  return (
    <>
      <button type="button" onClick={verify}>
        I have seen both looks: verified
      </button>
      {said !== '' && <p class="problem" role="alert">{said}</p>}
    </>
  );
}
