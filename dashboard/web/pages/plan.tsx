import { useEffect, useRef, useState } from 'preact/hooks';
import type { PlanAnswer, PlanTrip } from '../../../shared/plan.ts';
import { hoursWords, needWords } from '../../views/plan-words.ts';
import { dayAfter, timeWords, weekdayWords } from '../../views/site-time.ts';
import { get, query } from '../api.ts';
import { useLive, useNowMs } from '../live.ts';
import { PlanPeople } from '../parts/plan-people.tsx';
import { PlanTests } from '../parts/plan-tests.tsx';
import { changeTrip, PlanDayPart, PlanTripItem, type TripSurroundings } from '../parts/plan-trip.tsx';
import { generatorHref, setQuery } from '../router.ts';
import { useResource } from '../use-resource.ts';
import { rememberedName, rememberName } from '../who.ts';

const DAYS = 7;
const isDay = (text: string | null): text is string => text !== null && /^\d{4}-\d{2}-\d{2}$/.test(text) && !Number.isNaN(Date.parse(text));

/** The lead's week: a list by date and trip; what is proposed stands beside what is planned until somebody says so. */
export function PlanPage(props: { readonly query: URLSearchParams }) {
  const nowMs = useNowMs(60_000);
  const asked = props.query.get('from');
  const [by, setBy] = useState(rememberedName);
  const [problem, setProblem] = useState<string | undefined>(undefined);
  const [focusOn, setFocusOn] = useState<string | undefined>(undefined);
  const plan = useResource<PlanAnswer>(`plan ${isDay(asked) ? asked : 'today'}`, () => get<PlanAnswer>(`/plan${query({ from: isDay(asked) ? asked : undefined, days: DAYS })}`));
  const today = plan.value?.today ?? new Date(nowMs).toISOString().slice(0, 10);
  // Which day it is says the server; a browser's clock may be another.
  const fromDay = isDay(asked) ? asked : today;
  useLive('', { tick: plan.reload });
  useEffect(() => {
    document.title = 'Plan · Lull';
  }, []);
  useFocusAfterMove(focusOn, plan.value, () => setFocusOn(undefined));
  const saved = (visitId: string): void => {
    if (by.trim() !== '') rememberName(by.trim());
    setProblem(undefined);
    setFocusOn(visitId);
    plan.reload();
  };
  const around: TripSurroundings = { by, nowMs, today, fromDay, toDay: plan.value?.toDay ?? dayAfter(fromDay, DAYS - 1), technicians: plan.value?.technicians ?? [], onSaved: saved, onProblem: setProblem };
  const proposed = plan.value?.trips.filter((trip) => trip.visit === null && trip.day !== null) ?? [];
  const planAll = async (): Promise<void> => {
    for (const trip of proposed) await changeTrip(trip, { state: 'planned' }, around);
  };
  return (
    <>
      <div class="title-line">
        <h1>
          {plan.value === undefined && !isDay(asked) ? 'Plan' : `Plan, ${weekdayWords(fromDay)} to ${weekdayWords(dayAfter(fromDay, DAYS - 1))} ${dayAfter(fromDay, DAYS - 1).slice(0, 4)}`}
        </h1>
        <p class="buttons no-print">
          <button type="button" onClick={() => window.print()}>
            Print
          </button>
          <a class="button" href={`/api/v1/plan.csv${query({ from: isDay(asked) ? asked : undefined, days: DAYS })}`} download>
            Download as CSV
          </a>
        </p>
      </div>
      <p class="quiet only-print">As of {timeWords(nowMs, 'UTC')} UTC.</p>
      <div class="views" role="group" aria-label="Which days">
        <button type="button" onClick={() => setQuery({ from: dayAfter(fromDay, -DAYS) })}>
          A week earlier
        </button>
        <button type="button" aria-pressed={fromDay === today} onClick={() => setQuery({ from: '' })}>
          From today
        </button>
        <button type="button" onClick={() => setQuery({ from: dayAfter(fromDay, DAYS) })}>
          A week later
        </button>
        <label class="field field-inline">
          <span>Your name</span>
          <input value={by} maxLength={80} autocomplete="name" onInput={(event) => setBy(event.currentTarget.value)} />
        </label>
        {proposed.length > 0 && (
          <button type="button" class="primary" onClick={() => void planAll()}>
            {proposed.length === 1 ? 'Plan the one that is proposed' : `Plan all ${proposed.length} as proposed`}
          </button>
        )}
      </div>
      {(problem ?? plan.error) !== undefined && (
        <p class="problem" role="alert">
          {problem ?? plan.error} {problem === undefined && <button type="button" onClick={plan.reload}>Try again</button>}
        </p>
      )}
      {plan.value === undefined && plan.error === undefined && <p class="quiet">Loading the plan…</p>}
      {plan.value !== undefined && <PlanBody plan={plan.value} around={around} />}
      <PlanPeople loaded={plan.value !== undefined} technicians={plan.value?.technicians ?? []} way={plan.value?.way} by={by} onSaved={() => (setProblem(undefined), plan.reload())} onProblem={setProblem} />
      <PlanTests by={by} nowMs={nowMs} onSaved={() => (setProblem(undefined), plan.reload())} onProblem={setProblem} />
    </>
  );
}

/** A trip that moved to another day takes the focus with it. */
function useFocusAfterMove(key: string | undefined, plan: PlanAnswer | undefined, done: () => void): void {
  const finished = useRef(done);
  finished.current = done;
  useEffect(() => {
    if (key === undefined || plan === undefined) return;
    const item = document.querySelector<HTMLElement>(`[data-trip="${CSS.escape(key)}"]`);
    if (item === null) return;
    item.focus({ preventScroll: false });
    finished.current();
  }, [key, plan]);
}

function PlanBody(props: { readonly plan: PlanAnswer; readonly around: TripSurroundings }) {
  const { plan, around } = props;
  const undated = plan.trips.filter((trip) => trip.day === null);
  const all = [...plan.trips, ...plan.left.map((one) => one.trip)];
  const dropOn = (day: string, key: string): void => {
    const trip = all.find((one) => one.key === key);
    if (trip === undefined || trip.day === day) return;
    void changeTrip(trip, { plannedFor: day, ...(trip.visit === null ? { state: 'draft' as const } : {}) }, around);
  };
  return (
    <>
      <p class="quiet no-print keys">Move a trip by dragging it to another day, by its buttons, or with Alt and ↑ or ↓ while the focus is on it. What you move or plan is kept with your name; what is only proposed is worked out anew whenever something changes.</p>
      {plan.says.length > 0 && (plan.technicians.some((one) => !one.left) ? (
        <details class="no-print">
          <summary>How these days were proposed</summary>
          {plan.says.map((sentence) => <p key={sentence}>{sentence}</p>)}
        </details>
      ) : <p>{plan.says.join(' ')}</p>)}
      {plan.days.map(({ day, people }) => (
        <PlanDayPart key={day} {...around} day={day} people={people} trips={plan.trips.filter((trip) => trip.day === day)} onDrop={(key) => dropOn(day, key)} />
      ))}
      {undated.length > 0 && <TripList title="Without a day" trips={undated.map((trip) => ({ trip }))} around={around} />}
      {plan.left.length > 0 && <TripList title={`Finds no day (${plan.left.length})`} trips={plan.left} around={around} />}
      {plan.later.length > 0 && <Later later={plan.later} today={plan.today} nowMs={around.nowMs} />}
    </>
  );
}

function TripList(props: { readonly title: string; readonly trips: readonly { readonly trip: PlanTrip; readonly says?: string }[]; readonly around: TripSurroundings }) {
  return (
    <section class="plan-day" aria-label={props.title}>
      <h2>{props.title}</h2>
      <ol class="trips">
        {props.trips.map(({ trip, says }) => (
          <PlanTripItem key={trip.key} {...props.around} trip={trip} {...(says === undefined ? {} : { says })} />
        ))}
      </ol>
    </section>
  );
}

/** What is known and not for these days, nearest date first. */
function Later(props: { readonly later: PlanAnswer['later']; readonly today: string; readonly nowMs: number }) {
  const [all, setAll] = useState(false);
  const shown = all ? props.later : props.later.slice(0, 50);
  return (
    <details class="no-print">
      <summary>Not for these days ({props.later.length})</summary>
      <ul>
        {shown.map(({ need, says }) => (
          <li key={`${need.site}/${need.generator}`}>
            <a href={need.findings[0] === undefined ? generatorHref(need.site, need.generator) : `/findings/${encodeURIComponent(need.findings[0])}`}>
              {need.siteName}, {need.generatorName}
            </a>
            : {needWords(need, props.today, props.nowMs)} ({says}; about {hoursWords(need.hours)})
          </li>
        ))}
      </ul>
      {shown.length < props.later.length && (
        <button type="button" onClick={() => setAll(true)}>
          Show all {props.later.length}
        </button>
      )}
    </details>
  );
}
