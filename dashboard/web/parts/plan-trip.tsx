import { useRef, useState } from 'preact/hooks';
import type { PlanTrip, Technician } from '../../../shared/plan.ts';
import { hoursWords, needWords, TRADE_WORDS, tripName, VISIT_STATE_WORDS } from '../../views/plan-words.ts';
import { dayAfter, weekdayWords } from '../../views/site-time.ts';
import { generatorHref } from '../router.ts';
import { saveTrip, type TripChanges } from '../save-trip.ts';
import { isKept, useKept } from '../use-kept.ts';

export type TripSurroundings = { readonly by: string; readonly nowMs: number; readonly today: string; readonly fromDay: string; readonly toDay: string; readonly technicians: readonly Technician[]; readonly onSaved: (visitId: string) => void; readonly onProblem: (words: string) => void };

/** Save a change of one trip, and say what went wrong. True when it went well. */
export async function changeTrip(trip: PlanTrip, changes: TripChanges, { by, onSaved, onProblem }: TripSurroundings): Promise<boolean> {
  if (by.trim() === '') {
    onProblem('Please type your name first: every change of the plan carries one.');
    return false;
  }
  try {
    const saved = await saveTrip(trip, changes, by.trim());
    onSaved(saved.id);
    return true;
  } catch (error) {
    onProblem(error instanceof Error ? error.message : String(error));
    return false;
  }
}

/** What can still be changed by the lead: not what is under way or done. */
function isOpen(trip: PlanTrip): boolean {
  return trip.visit === null || trip.visit.state === 'draft' || trip.visit.state === 'planned';
}

/** One trip: when, who, where, why, with what; moved by drag, by its buttons, or with Alt and the arrow keys. */
export function PlanTripItem(props: { readonly trip: PlanTrip; readonly says?: string } & TripSurroundings) {
  const { trip } = props;
  // A trip that is proposed for another day is drawn anew there, with what was typed.
  const [changing, setChanging] = useState(() => isKept(formName(trip)));
  const item = useRef<HTMLLIElement>(null);
  const open = isOpen(trip);
  const move = (days: number): void => {
    const day = dayAfter(trip.day ?? props.fromDay, trip.day === null ? 0 : days);
    void changeTrip(trip, { plannedFor: day, ...(trip.visit === null ? { state: 'draft' as const } : {}) }, props);
  };
  const state = trip.visit === null ? (trip.day === null ? 'no day yet' : 'proposed') : VISIT_STATE_WORDS[trip.visit.state];
  return (
    <li
      ref={item}
      class={`trip trip-${trip.visit?.state ?? 'proposed'}`}
      data-trip={trip.key}
      draggable={open}
      tabIndex={-1}
      onDragStart={(event) => event.dataTransfer?.setData('text/plain', trip.key)}
      onKeyDown={(event) => {
        if (!open || !event.altKey || (event.key !== 'ArrowUp' && event.key !== 'ArrowDown')) return;
        event.preventDefault();
        move(event.key === 'ArrowUp' ? -1 : 1);
      }}
    >
      <div class="trip-who">
        <strong>{trip.technician ?? 'nobody named'}</strong>
        <span class="under">
          {trip.visit?.plannedTime !== null && trip.visit?.plannedTime !== undefined && `${trip.visit.plannedTime} there, `}
          {hoursWords(trip.hours)}
        </span>
        <span class={trip.visit?.state === 'planned' ? 'under' : 'under trip-state'}>{state}</span>
      </div>
      <div class="trip-where">
        <h3>
          {trip.siteName} <span class="quiet trip-area">{trip.area ?? ''}</span>
        </h3>
        <ul class="trip-needs">
          {trip.needs.map((need) => (
            <li key={need.generator}>
              <a href={need.findings[0] === undefined ? generatorHref(need.site, need.generator) : `/findings/${encodeURIComponent(need.findings[0])}`}>{need.generatorName}</a>: <span class={need.atOnce ? 'wait-now' : ''}>{needWords(need, props.today, props.nowMs)}</span>
            </li>
          ))}
          {trip.needs.length === 0 && trip.generators.map((one) => <li key={one}><a href={generatorHref(trip.site, one)}>{one}</a>: nothing found now</li>)}
        </ul>
        {props.says !== undefined && <p class="odd">Finds no day: {props.says}.</p>}
        {trip.warnings.map((warning) => (
          <p key={warning} class="odd">
            {warning}
          </p>
        ))}
        {trip.access !== null && trip.access !== '' && (
          <p>
            <strong>Access: {trip.access}</strong>
            {trip.visit === null && trip.day !== null && <span class="quiet"> (not taken into account when {weekdayWords(trip.day)} was proposed)</span>}
          </p>
        )}
        {trip.visit !== null && trip.visit.note !== '' && <p>{trip.visit.note}</p>}
        <p class="under">
          {trip.trade !== 'generator-technician' && `Who must go: ${TRADE_WORDS[trip.trade]}. `}
          {trip.bring.length > 0 && `Bring ${trip.bring.join(', ')}.`}
        </p>
        {(trip.because.length > 0 || trip.slip.length > 0) && (
          <details class="trip-why">
            <summary>Why then, and if it slips a week</summary>
            {trip.because.length > 0 && <p>{trip.because.join(' ')}</p>}
            <p>A week later: {trip.slip.length === 0 ? 'nothing changes that is known now.' : trip.slip.join(' ')}</p>
          </details>
        )}
        {changing && <TripForm {...props} onDone={() => setChanging(false)} />}
      </div>
      <div class="trip-actions no-print">
        {open && trip.visit?.state !== 'planned' && trip.day !== null && (
          <button type="button" class="primary" aria-label={`Plan it: ${tripName(trip)}`} onClick={() => void changeTrip(trip, { state: 'planned' }, props)}>
            Plan it
          </button>
        )}
        {open && trip.day !== null && (
          <>
            <button type="button" aria-label={`A day earlier: ${tripName(trip)}`} onClick={() => move(-1)}>
              ↑ Earlier
            </button>
            <button type="button" aria-label={`A day later: ${tripName(trip)}`} onClick={() => move(1)}>
              ↓ Later
            </button>
          </>
        )}
        {open && (
          <button type="button" aria-expanded={changing} aria-label={`Change: ${tripName(trip)}`} onClick={() => setChanging(!changing)}>
            Change…
          </button>
        )}
        {trip.visit !== null && (
          <>
            <a class="button" href={`/visits/${encodeURIComponent(trip.visit.id)}`} aria-label={`Open the visit: ${tripName(trip)}`}>
              Open
            </a>
            {trip.day !== null && (
              <a class="button" href={`/api/v1/trips/${encodeURIComponent(trip.visit.id)}/calendar.ics`} download aria-label={`Calendar file: ${tripName(trip)}`}>
                .ics
              </a>
            )}
          </>
        )}
      </div>
    </li>
  );
}

const formName = (trip: PlanTrip): string => `trip ${trip.key}`;

function TripForm(props: { readonly trip: PlanTrip; readonly onDone: () => void } & TripSurroundings) {
  const { trip } = props;
  const fresh = { day: trip.day ?? props.fromDay, time: trip.visit?.plannedTime ?? '', technician: trip.technician ?? '', hours: String(trip.hours), note: trip.visit?.note ?? '' };
  const typed = useKept(formName(trip), () => fresh);
  const { day, time, technician, hours, note } = typed.value;
  const change = (changes: Partial<typeof fresh>): void => typed.set({ ...typed.value, ...changes });
  const leave = (): void => {
    typed.forget(fresh);
    props.onDone();
  };
  const save = (state: 'draft' | 'planned' | 'cancelled'): void => {
    const number = Number(hours.replace(',', '.'));
    if (!(number > 0 && number <= 24)) return props.onProblem('Hours must be a number above 0 and at most 24.');
    void changeTrip(trip, { state, plannedFor: day === '' ? null : day, plannedTime: time === '' ? null : time, technician: technician === '' ? null : technician, hours: number, note: note.trim() }, props).then((saved) => saved && leave());
  };
  const names = props.technicians.filter((one) => !one.left || one.name === technician).map((one) => one.name);
  return (
    <form class="form" aria-label={`Change ${trip.siteName}`} onSubmit={(event) => (event.preventDefault(), save(trip.visit?.state === 'draft' || trip.visit === null ? 'draft' : 'planned'))}>
      <label class="field">
        <span>Day</span>
        <input type="date" value={day} onInput={(event) => change({ day: event.currentTarget.value })} />
      </label>
      <label class="field">
        <span>Time there (if agreed)</span>
        <input type="time" value={time} onInput={(event) => change({ time: event.currentTarget.value })} />
      </label>
      <label class="field">
        <span>Who goes</span>
        <select value={technician} onChange={(event) => change({ technician: event.currentTarget.value })}>
          <option value="">nobody yet</option>
          {[...new Set(technician === '' ? names : [...names, technician])].map((name) => (
            <option key={name} value={name} selected={name === technician}>
              {name}
            </option>
          ))}
        </select>
      </label>
      <label class="field">
        <span>Hours on site</span>
        <input inputMode="decimal" size={4} value={hours} onInput={(event) => change({ hours: event.currentTarget.value })} />
      </label>
      <label class="field field-text">
        <span>Note for who goes (may be left empty)</span>
        <textarea rows={2} maxLength={4000} value={note} onInput={(event) => change({ note: event.currentTarget.value })} />
      </label>
      <div class="buttons">
        <button type="submit" class="primary">
          Save
        </button>
        {trip.visit?.state === 'planned' && (
          <button type="button" onClick={() => save('draft')}>
            Back to draft
          </button>
        )}
        {trip.visit !== null && (
          <button type="button" onClick={() => save('cancelled')}>
            Cancel the visit
          </button>
        )}
        <button type="button" onClick={leave}>
          Leave it
        </button>
      </div>
    </form>
  );
}

/** What a day holds, and how many hours of whom are taken; a trip may be dropped on it. */
export function PlanDayPart(props: { readonly day: string; readonly people: readonly { readonly name: string; readonly hours: number; readonly plannedHours: number; readonly proposedHours: number; readonly away: boolean }[]; readonly trips: readonly PlanTrip[]; readonly onDrop: (key: string) => void } & TripSurroundings) {
  const { day, trips } = props;
  const [over, setOver] = useState(false);
  const busy = props.people.filter((one) => one.plannedHours + one.proposedHours > 0 || (one.away && one.hours === 0));
  const free = props.people.filter((one) => !busy.includes(one) && one.hours > 0);
  return (
    <section
      class={over ? 'plan-day plan-day-over' : 'plan-day'}
      aria-label={weekdayWords(day)}
      onDragOver={(event) => (event.preventDefault(), setOver(true))}
      onDragLeave={() => setOver(false)}
      onDrop={(event) => {
        event.preventDefault();
        setOver(false);
        props.onDrop(event.dataTransfer?.getData('text/plain') ?? '');
      }}
    >
      <h2>
        {weekdayWords(day)}
        {day === props.today && ', today'}
      </h2>
      <p class="quiet plan-hours">
        {busy.map((one) => (one.away ? `${one.name} is away` : `${one.name} ${hoursWords(one.plannedHours + one.proposedHours)} of ${hoursWords(one.hours)}`)).concat(free.length > 0 ? [`free: ${free.map((one) => one.name).join(', ')}`] : []).join(' · ')}
      </p>
      {trips.length === 0 ? <p class="quiet plan-none">Nothing.</p> : (
        <ol class="trips">
          {trips.map((trip) => (
            <PlanTripItem key={trip.key} {...props} trip={trip} />
          ))}
        </ol>
      )}
    </section>
  );
}
