import { useState } from 'preact/hooks';
import type { Technician, Trade, WayHours } from '../../../shared/plan.ts';
import { hoursWords, TRADE_WORDS } from '../../views/plan-words.ts';
import { weekdayWords } from '../../views/site-time.ts';
import { post } from '../api.ts';
import { PlanWay } from './plan-way.tsx';

const WEEKDAYS = ['Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun'] as const;
const TRADES = Object.keys(TRADE_WORDS) as Trade[];
const NEW: Technician = { name: '', trades: ['generator-technician'], hoursByWeekday: [8, 8, 8, 8, 8, 0, 0], away: [], left: false };

/** Who can be sent, on which days, for what; and the address of each one's calendar feed. */
export function PlanPeople(props: { readonly technicians: readonly Technician[]; readonly way: WayHours | undefined; readonly loaded: boolean; readonly by: string; readonly onSaved: () => void; readonly onProblem: (words: string) => void }) {
  const [editing, setEditing] = useState<Technician | undefined>(undefined);
  // Open while nobody is entered; from then on as the reader left it.
  const [open, setOpen] = useState<boolean | undefined>(undefined);
  const save = async (person: Technician): Promise<void> => {
    if (props.by.trim() === '') return props.onProblem('Please type your name first: every change of the plan carries one.');
    if (person.name.trim() === '') return props.onProblem('Please type the name of who can be sent.');
    if (person.trades.length === 0) return props.onProblem('Please choose at least one kind of work.');
    try {
      await post<Technician>('/technicians', { ...person, name: person.name.trim(), by: props.by.trim() });
      setEditing(undefined);
      props.onSaved();
    } catch (error) {
      props.onProblem(error instanceof Error ? error.message : String(error));
    }
  };
  const working = props.technicians.filter((one) => !one.left);
  return (
    <details class="no-print" open={open ?? (props.loaded && working.length === 0)} onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>
        Who can be sent{props.loaded && ` (${working.length})`}
      </summary>
      {working.length > 0 && (
        <ul class="people">
          {working.map((one) => (
            <li key={one.name}>
              <strong>{one.name}</strong>: {one.trades.map((trade) => TRADE_WORDS[trade]).join(', ')}; {one.hoursByWeekday.map((hours, index) => (hours > 0 ? `${WEEKDAYS[index]} ${hoursWords(hours)}` : '')).filter((text) => text !== '').join(', ')}
              {one.away.length > 0 && `; away ${one.away.map((span) => (span.from === span.to ? weekdayWords(span.from) : `${weekdayWords(span.from)} to ${weekdayWords(span.to)}`)).join(', ')}`}
              <span class="people-more">
                <button type="button" aria-label={`Change ${one.name}`} onClick={() => setEditing(one)}>
                  Change…
                </button>{' '}
                <a class="button" href={`/api/v1/trips.ics?technician=${encodeURIComponent(one.name)}`}>
                  Calendar feed of {one.name}
                </a>
              </span>
            </li>
          ))}
        </ul>
      )}
      {editing === undefined ? (
        <p>
          <button type="button" onClick={() => setEditing(NEW)}>
            Enter somebody…
          </button>
        </p>
      ) : (
        <PersonForm key={editing.name} person={editing} known={editing !== NEW} onSave={(person) => void save(person)} onDone={() => setEditing(undefined)} />
      )}
      {props.way !== undefined && <PlanWay way={props.way} by={props.by} onSaved={props.onSaved} onProblem={props.onProblem} />}
    </details>
  );
}

function PersonForm(props: { readonly person: Technician; readonly known: boolean; readonly onSave: (person: Technician) => void; readonly onDone: () => void }) {
  const [person, setPerson] = useState(props.person);
  const [from, setFrom] = useState('');
  const [to, setTo] = useState('');
  const change = (changes: Partial<Technician>): void => setPerson({ ...person, ...changes });
  const withAway = (): Technician => (from === '' ? person : { ...person, away: [...person.away, { from, to: to === '' || to < from ? from : to }] });
  return (
    <form class="form" aria-label="Who can be sent" onSubmit={(event) => (event.preventDefault(), props.onSave(withAway()))}>
      <label class="field">
        <span>Name</span>
        <input value={person.name} readOnly={props.known} required maxLength={80} onInput={(event) => change({ name: event.currentTarget.value })} />
      </label>
      <fieldset>
        <legend>Goes as</legend>
        <div class="checks">
          {TRADES.map((trade) => (
            <label key={trade}>
              <input type="checkbox" checked={person.trades.includes(trade)} onChange={(event) => change({ trades: event.currentTarget.checked ? [...person.trades, trade] : person.trades.filter((one) => one !== trade) })} /> {TRADE_WORDS[trade]}
            </label>
          ))}
        </div>
      </fieldset>
      <fieldset>
        <legend>Hours for visits and the way there</legend>
        <div class="week-hours">
          {WEEKDAYS.map((name, index) => (
            <label key={name} class="field">
              <span>{name}</span>
              <input type="number" min={0} max={24} step={0.5} value={person.hoursByWeekday[index] ?? 0} onInput={(event) => change({ hoursByWeekday: person.hoursByWeekday.map((hours, at) => (at === index ? Math.min(24, Math.max(0, Number(event.currentTarget.value))) : hours)) })} />
            </label>
          ))}
        </div>
      </fieldset>
      <fieldset>
        <legend>Days off</legend>
        {person.away.map((span) => (
          <p key={`${span.from} ${span.to}`}>
            {weekdayWords(span.from)} to {weekdayWords(span.to)}{' '}
            <button type="button" onClick={() => change({ away: person.away.filter((one) => one !== span) })}>
              Take out
            </button>
          </p>
        ))}
        <div class="week-hours">
          <label class="field">
            <span>From</span>
            <input type="date" value={from} onInput={(event) => setFrom(event.currentTarget.value)} />
          </label>
          <label class="field">
            <span>To</span>
            <input type="date" value={to} onInput={(event) => setTo(event.currentTarget.value)} />
          </label>
        </div>
      </fieldset>
      <div class="buttons">
        <button type="submit" class="primary">
          Save
        </button>
        {props.known && (
          <button type="button" onClick={() => props.onSave({ ...person, left: true })}>
            No longer plan with {person.name}
          </button>
        )}
        <button type="button" onClick={props.onDone}>
          Leave it
        </button>
      </div>
    </form>
  );
}
