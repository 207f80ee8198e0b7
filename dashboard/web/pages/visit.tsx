import { useEffect, useRef, useState } from 'preact/hooks';
import { GAUGE_UNITS } from '../../views/gauge-units.ts';
import { clockWords, weekdayWords } from '../../views/site-time.ts';
import { CARE_VISIT } from '../../views/words-of-care.ts';
import { useLive, useNowMs } from '../live.ts';
import { VisitPhotos } from '../parts/visit-photos.tsx';
import { generatorHref } from '../router.ts';
import { ClosedClock } from '../visit/closed-clock.tsx';
import type { Draft } from '../visit/draft.ts';
import { askToPersist } from '../visit/draft-store.ts';
import { SignOff } from '../visit/sign-off.tsx';
import { StepList } from '../visit/step-list.tsx';
import { type OpenDraft, rememberUnit, useDraft } from '../visit/use-draft.ts';
import { VisitCard } from '../visit/visit-card.tsx';
import { freshId, visitNowMs } from '../visit/visit-clock.ts';
import { workOffline } from '../visit/work-offline.ts';
import { rememberName } from '../who.ts';

/** One visit, on a phone, with or without signal: where and why, the steps with their words of care, and the record of it. */
export function VisitPage(props: { readonly id: string; readonly query: URLSearchParams }) {
  const [site, generator] = [props.query.get('site'), props.query.get('generator')];
  // A visit that nobody planned gets its id here, and its address says it, so that a restart finds it again.
  const [id] = useState(() => (props.id === 'new' ? freshId('visit') : props.id));
  const opened = useDraft(id, site === null || generator === null ? undefined : { site, generator });
  useLive('', {});
  useEffect(() => {
    document.title = 'Visit · Lull';
    if (id !== props.id) window.history.replaceState(window.history.state, '', `/visits/${id}${window.location.search}`);
    workOffline();
    void askToPersist();
  }, []);
  const { draft } = opened;
  if (draft === undefined) {
    return (
      <>
        <h1>Visit</h1>
        {opened.problem === undefined ? <p class="quiet">Loading the visit…</p> : <p class="problem" role="alert">{opened.problem} <a href="/visits">To all visits</a></p>}
      </>
    );
  }
  return <VisitOf {...opened} draft={draft} />;
}

function VisitOf(props: OpenDraft & { readonly draft: Draft }) {
  const { draft, change } = props;
  const nowMs = useNowMs(10_000);
  const [chosen, setChosen] = useState(draft.generators[0] ?? '');
  const site = Object.values(draft.cards)[0]?.detail.site;
  const care = useRef<HTMLDetailsElement>(null);
  useEffect(() => {
    // On paper it goes along with all that a person must know before they begin.
    const open = (): void => {
      care.current?.setAttribute('open', '');
      document.querySelector('.visit-card')?.setAttribute('open', '');
    };
    window.addEventListener('beforeprint', open);
    return () => window.removeEventListener('beforeprint', open);
  }, []);
  useEffect(() => {
    // Who comes back in the middle of a visit finds the step that is next, not the address.
    if (draft.startedAt !== null && draft.signedAt === null) window.setTimeout(() => document.querySelector('.step[open]')?.scrollIntoView({ block: 'start' }), 100);
  }, []);
  return (
    <div class="visit">
      <h1>{site?.name ?? draft.site}</h1>
      <p class="quiet">
        {draft.generators.map((generator) => (
          <a key={generator} class="visit-generator" href={generatorHref(draft.site, generator)}>
            {draft.cards[generator]?.detail.generator.name ?? generator}
          </a>
        ))}
        {draft.plan?.plannedFor !== null && draft.plan !== null && <span>planned for {weekdayWords(draft.plan.plannedFor, new Date(nowMs).toISOString().slice(0, 10))}{draft.plan.plannedTime === null ? '' : ` at ${draft.plan.plannedTime}`}</span>}
      </p>
      <ClosedClock draft={draft} />
      <KeptLine {...props} />
      {draft.generators.length > 1 && (
        <div class="buttons" role="group" aria-label="Generator">
          {draft.generators.map((generator) => (
            <button key={generator} type="button" aria-pressed={generator === chosen} onClick={() => setChosen(generator)}>
              {draft.cards[generator]?.detail.generator.name ?? generator}
            </button>
          ))}
        </div>
      )}
      <VisitCard draft={draft} generator={chosen} nowMs={nowMs} />
      {draft.plan !== null && draft.plan.note !== '' && <p class="done">From the office: {draft.plan.note}</p>}
      {draft.startedAt === null ? (
        <Start draft={draft} change={change} />
      ) : (
        <>
          <section aria-labelledby="steps-title">
            <h2 id="steps-title">{draft.procedure === 'service' ? 'Service, step by step' : 'Find the leak, step by step'}</h2>
            <Choices draft={draft} change={change} />
            <StepList draft={draft} generator={chosen} change={change} changeWork={props.changeWork} />
          </section>
          <SignOff draft={draft} sending={props.sending} change={change} send={props.send} />
          {draft.recordedAt !== null && <VisitPhotos visit={draft.id} zone={site?.timeZone ?? 'UTC'} round={draft.sentSeq} />}
        </>
      )}
      <details class="visit-care" ref={care}>
        <summary>Words of care on a visit</summary>
        <ul>
          {CARE_VISIT.map((words) => (
            <li key={words}>{words}</li>
          ))}
        </ul>
      </details>
    </div>
  );
}

/** Where the work is: on this phone, or with the server too. Always in words, never a sign alone. */
function KeptLine(props: OpenDraft & { readonly draft: Draft }) {
  const { draft } = props;
  const zone = Object.values(draft.cards)[0]?.detail.site.timeZone ?? 'UTC';
  if (props.problem !== undefined) return <p class="problem" role="alert">{props.problem}</p>;
  if (draft.startedAt === null) return <p class="kept">This visit is on this phone and opens without signal.</p>;
  const all = draft.seq === draft.sentSeq;
  return (
    <p class="kept">
      Kept on this phone {clockWords(draft.savedAtMs, zone)}. {props.sending ? 'Sending…' : all ? 'The server has it too.' : draft.refused === null ? 'Not sent yet.' : `Refused: ${draft.refused}`}
    </p>
  );
}

function Start(props: { readonly draft: Draft; readonly change: OpenDraft['change'] }) {
  const { draft, change } = props;
  return (
    <section aria-labelledby="start-title" class="visit-start">
      <h2 id="start-title">Start</h2>
      <label class="typed typed-note">
        <span>Your name</span>
        <input value={draft.technician} maxLength={80} autocomplete="name" onInput={(event) => {
          const technician = event.currentTarget.value;
          change((old) => ({ ...old, technician }));
        }} />
      </label>
      <Choices draft={draft} change={change} />
      <button
        type="button"
        class="primary big"
        disabled={draft.technician.trim() === ''}
        onClick={() => {
          rememberName(draft.technician.trim());
          change((old) => ({ ...old, startedAt: new Date(visitNowMs()).toISOString() }), true);
        }}
      >
        Start the visit
      </button>
    </section>
  );
}

/** The unit of the gauges here, and which procedure; both can be changed on the way. */
function Choices(props: { readonly draft: Draft; readonly change: OpenDraft['change'] }) {
  const { draft, change } = props;
  const typed = Object.values(draft.work).some((work) => [...Object.values(work.asFound), ...Object.values(work.asLeft), work.pipingNow, work.lowPressure, work.fallPerHour, ...Object.values(work.holds).flatMap((hold) => [hold.start ?? '', hold.end ?? ''])].some((text) => text.trim() !== ''));
  return (
    <div class="visit-choices">
      {typed ? (
        <p class="quiet">Pressures are typed in {draft.unit}.</p>
      ) : (
        <fieldset>
          <legend>The gauges here show</legend>
          <div class="buttons">
            {GAUGE_UNITS.map((unit) => (
              <button key={unit} type="button" aria-pressed={draft.unit === unit} onClick={() => {
                rememberUnit(unit);
                change((old) => ({ ...old, unit }));
              }}>
                {unit}
              </button>
            ))}
          </div>
        </fieldset>
      )}
      {draft.startedAt === null && (
        <fieldset>
          <legend>What you will do</legend>
          <div class="buttons">
            <button type="button" aria-pressed={draft.procedure === 'service'} onClick={() => change((old) => ({ ...old, procedure: 'service' }))}>
              Service
            </button>
            <button type="button" aria-pressed={draft.procedure === 'find-the-leak'} onClick={() => change((old) => ({ ...old, procedure: 'find-the-leak' }))}>
              Find the leak
            </button>
          </div>
        </fieldset>
      )}
    </div>
  );
}
