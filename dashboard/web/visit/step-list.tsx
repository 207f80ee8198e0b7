import { RETURN_READINGS, VISIT_READINGS } from '../../views/visit-readings.ts';
import { stepsOf, type VisitStep } from '../../views/visit-steps.ts';
import { clockWords } from '../../views/site-time.ts';
import { allowedOf, closedSince } from './time-allowed-here.ts';
import { type Draft, EMPTY_WORK, valvesOf, type WorkDraft } from './draft.ts';
import { HoldTests } from './hold-tests.tsx';
import { BeforeYouLeave, SecondLooks } from './leaving.tsx';
import { LiveQuarter } from './live-quarter.tsx';
import { Photos } from './photos.tsx';
import { bothTold, ToldPart } from './told-part.tsx';
import { TypedNumber, TypedReadings } from './typed-readings.tsx';
import { ValveList } from './valve-list.tsx';
import { visitNowMs } from './visit-clock.ts';
import { WorkPart } from './work-part.tsx';

export type StepsProps = { readonly draft: Draft; readonly generator: string; readonly change: (make: (draft: Draft) => Draft, soon?: boolean) => void; readonly changeWork: (generator: string, make: (work: WorkDraft) => WorkDraft, soon?: boolean) => void };

/** What keeps a step from being ticked; safety comes before the order of a form, nothing else does. */
function hindrance(step: VisitStep, { draft, generator }: StepsProps): string | undefined {
  if (step.part === 'told' && !bothTold(draft, 'before')) return 'Both must be told first.';
  if ((step.part === 'closes' || step.part === 'hold-tests') && !bothTold(draft, 'before')) return 'Tell the coordinator and the supervising station first, then close anything.';
  if (step.part === 'closes' && allowedOf(draft, generator).minutes === 0) return 'No time allowed: the piping is too near its low-pressure signal. Do not close.';
  if (step.part === 'hold-tests' && closedSince(draft, generator) !== undefined) return 'A riser is still closed.';
  if (step.part === 'normal' && !bothTold(draft, 'back-to-normal')) return 'Both must confirm first.';
  if (step.part === 'valves') {
    const open = valvesOf(draft, generator).filter((valve) => (draft.work[generator]?.valves[valve.name]?.left ?? null) === null);
    if (open.length > 0) return `Not looked at yet: ${open.map((valve) => valve.name).join(', ')}.`;
  }
  return undefined;
}

/** The steps in their order. The first that isn't done stands open; every other opens at a tap. */
export function StepList(props: StepsProps) {
  const { draft, generator } = props;
  const done = draft.work[generator]?.steps ?? {};
  const steps = stepsOf(draft.procedure);
  const next = steps.find((step) => done[step.id] === undefined);
  return (
    <ol class="steps">
      {steps.map((step, index) => (
        <li key={`${generator} ${step.id}`} id={`step-${step.id}`}>
          <details open={step === next} class={done[step.id] === undefined ? 'step' : 'step step-done'}>
            <summary>
              <span class="step-number">{index + 1}</span>
              <span class="step-title">{step.title}</span>
              <DoneWords at={done[step.id]?.doneAt} draft={draft} />
            </summary>
            <StepBody step={step} {...props} />
          </details>
        </li>
      ))}
    </ol>
  );
}

function DoneWords(props: { readonly at: string | undefined; readonly draft: Draft }) {
  if (props.at === undefined) return null;
  return <span class="step-when">done {clockWords(Date.parse(props.at), Object.values(props.draft.cards)[0]?.detail.site.timeZone ?? 'UTC')}</span>;
}

function StepBody(props: StepsProps & { readonly step: VisitStep }) {
  const { step, draft, generator } = props;
  const change = (make: (work: WorkDraft) => WorkDraft, soon?: boolean): void => props.changeWork(generator, make, soon);
  const doneAt = draft.work[generator]?.steps[step.id]?.doneAt;
  const stopped = hindrance(step, props);
  const finish = (): void => {
    change((old) => ({ ...old, steps: { ...old.steps, [step.id]: { doneAt: new Date(visitNowMs()).toISOString() } } }), true);
    // The next step is brought where the thumb is; after it is drawn.
    const steps = stepsOf(draft.procedure);
    const following = steps[steps.findIndex((one) => one.id === step.id) + 1];
    if (following !== undefined) window.setTimeout(() => document.querySelector(`#step-${following.id}`)?.scrollIntoView({ block: 'start' }), 60);
  };
  return (
    <div class="step-body">
      {step.care.length > 0 && (
        <ul class="step-care">
          {step.care.map((words) => (
            <li key={words}>{words}</li>
          ))}
        </ul>
      )}
      {step.does.map((words) => (
        <p key={words}>{words}</p>
      ))}
      <PartOf {...props} changeMine={change} />
      {step.part !== 'looks' && (
        <div class="step-end">
          {doneAt === undefined && stopped !== undefined && <p class="step-stopped">{stopped}</p>}
          {doneAt === undefined ? (
            <button type="button" class="primary big" disabled={stopped !== undefined} onClick={finish}>
              {step.part === 'closes' ? 'Closed: start the clock' : step.part === 'opens' ? 'Open: stop the clock' : 'Done'}
            </button>
          ) : (
            <button type="button" onClick={() => change((old) => ({ ...old, steps: Object.fromEntries(Object.entries(old.steps).filter(([id]) => id !== step.id)) }), true)}>
              Not done after all
            </button>
          )}
        </div>
      )}
    </div>
  );
}

/** What a step asks for beside its tick. */
function PartOf(props: StepsProps & { readonly step: VisitStep; readonly changeMine: (make: (work: WorkDraft) => WorkDraft, soon?: boolean) => void }) {
  const { draft, generator, changeMine } = props;
  const work = draft.work[generator] ?? EMPTY_WORK;
  const card = draft.cards[generator];
  const common = { unit: draft.unit, normal: card?.normal, risers: card?.detail.generator.risers.map((riser) => riser.id) ?? [] };
  switch (props.step.part) {
    case 'told':
      return <ToldPart draft={draft} what="before" change={props.change} />;
    case 'normal':
      return <ToldPart draft={draft} what="back-to-normal" change={props.change} />;
    case 'as-found':
      return (
        <>
          <TypedReadings title="As found" readings={VISIT_READINGS} values={work.asFound} {...common} change={(asFound) => changeMine((old) => ({ ...old, asFound }))} />
          <Photos draft={draft} generator={generator} says="as found" taken={() => changeMine((old) => old, true)} />
          <h4>Valves as found</h4>
          <ValveList draft={draft} generator={generator} side="found" change={changeMine} />
        </>
      );
    case 'allowed':
      return <AllowedPart draft={draft} generator={generator} change={changeMine} />;
    case 'closes':
      return <AllowedSays draft={draft} generator={generator} />;
    case 'work':
      return (
        <>
          <WorkPart work={work} change={changeMine} />
          <NotePart work={work} words="Note: what you saw and did" change={changeMine} />
          <Photos draft={draft} generator={generator} says="at work" taken={() => changeMine((old) => old, true)} />
        </>
      );
    case 'as-left':
      return <TypedReadings title="As left" readings={VISIT_READINGS} values={work.asLeft} {...common} change={(asLeft) => changeMine((old) => ({ ...old, asLeft }))} />;
    case 'opens':
      return (
        <>
          <TypedReadings title="Back in service" readings={RETURN_READINGS} values={work.asLeft} {...common} change={(asLeft) => changeMine((old) => ({ ...old, asLeft }))} />
          <LiveQuarter draft={draft} generator={generator} />
        </>
      );
    case 'valves':
      return (
        <>
          <ValveList draft={draft} generator={generator} side="left" change={changeMine} />
          <Photos draft={draft} generator={generator} says="as left" taken={() => changeMine((old) => old, true)} />
          <BeforeYouLeave draft={draft} generator={generator} />
        </>
      );
    case 'looks':
      return <SecondLooks draft={draft} generator={generator} verified={(plan) => props.change((old) => ({ ...old, plan, revision: plan.revision, sentSeq: old.seq === old.sentSeq ? old.seq + 1 : old.sentSeq }))} />;
    case 'hold-tests':
      return (
        <>
          <AllowedPart draft={draft} generator={generator} change={changeMine} />
          <HoldTests draft={draft} generator={generator} mayClose={bothTold(draft, 'before') && allowedOf(draft, generator).minutes > 0} change={changeMine} />
        </>
      );
    case 'places':
      return (
        <>
          <NotePart work={work} words="Places that leak, and what you did" change={changeMine} />
          <Photos draft={draft} generator={generator} says="where it leaks" taken={() => changeMine((old) => old, true)} />
        </>
      );
    default:
      return null;
  }
}

function NotePart(props: { readonly work: WorkDraft; readonly words: string; readonly change: (make: (work: WorkDraft) => WorkDraft) => void }) {
  return (
    <label class="typed typed-note">
      <span>{props.words}</span>
      <textarea rows={4} maxLength={4000} value={props.work.note} onInput={(event) => {
        const note = event.currentTarget.value;
        props.change((old) => ({ ...old, note }));
      }} />
    </label>
  );
}

function AllowedPart(props: { readonly draft: Draft; readonly generator: string; readonly change: (make: (work: WorkDraft) => WorkDraft) => void }) {
  const { draft, generator, change } = props;
  const work = draft.work[generator] ?? EMPTY_WORK;
  return (
    <>
      <div class="typed-list">
        <TypedNumber words="piping now" unit={draft.unit} value={work.pipingNow} change={(pipingNow) => change((old) => ({ ...old, pipingNow }))} />
        <TypedNumber words="low-pressure signal" unit={draft.unit} hint="empty: as registered" value={work.lowPressure} change={(lowPressure) => change((old) => ({ ...old, lowPressure }))} />
        <TypedNumber words="fall of the piping in an hour" unit={draft.unit} hint="empty: as far as it is known" value={work.fallPerHour} change={(fallPerHour) => change((old) => ({ ...old, fallPerHour }))} />
      </div>
      <AllowedSays draft={draft} generator={generator} />
    </>
  );
}

const BECAUSE = { computed: '', capped: ' The piping could wait longer; read it again after that.', unknown: ' Not all is known, so 30 min are taken.', 'too-low': ' Do not close.' } as const;

function AllowedSays(props: { readonly draft: Draft; readonly generator: string }) {
  const allowed = allowedOf(props.draft, props.generator);
  return (
    <p class={allowed.minutes === 0 ? 'problem allowed' : 'done allowed'}>
      <strong>Time allowed closed: {allowed.minutes} min.</strong>
      {BECAUSE[allowed.because]} <span class="under">From: {allowed.from}. 20 kPa are kept above the signal.</span>
    </p>
  );
}
