import { useEffect } from 'preact/hooks';
import type { HandOver, HandOverLine, HandOverNote, Page } from '../../../shared/api.ts';
import { timeWords } from '../../views/site-time.ts';
import { get, post, query } from '../api.ts';
import { NameField, SaidLine } from '../parts/form-fields.tsx';
import { generatorHref, setQuery } from '../router.ts';
import { useResource } from '../use-resource.ts';
import { useKept } from '../use-kept.ts';
import { useSend } from '../use-send.ts';

const HOURS = [8, 12, 24, 72] as const;

/** Notes of earlier shifts that are listed; older ones are kept too. */
const NOTES_SHOWN = 20;

/** The note at the end of a shift, to be read aloud, sent or printed. Times are those of UTC, since a shift looks after sites of many zones. */
export function HandOverPage(props: { readonly query: URLSearchParams }) {
  const hours = HOURS.find((one) => String(one) === props.query.get('hours')) ?? 8;
  const { by, setBy, busy, said, send } = useSend();
  const { value: words, set: setWords, forget } = useKept<string>('hand-over', () => '');
  const notes = useResource<Page<HandOverNote>>('hand-over notes', () => get<Page<HandOverNote>>(`/hand-over/notes${query({ limit: NOTES_SHOWN })}`));
  const note = useResource<HandOver>(`hand-over ${hours}`, () => get<HandOver>(`/hand-over${query({ hours })}`));
  useEffect(() => {
    document.title = 'Hand-over note · Lull';
  }, []);
  return (
    <>
      <div class="title-line">
        <h1>Hand-over note</h1>
        <p class="buttons no-print">
          <button type="button" onClick={note.reload}>
            Make it anew
          </button>
          <button type="button" onClick={() => window.print()}>
            Print
          </button>
        </p>
      </div>
      <div class="views" role="group" aria-label="How far back">
        {HOURS.map((one) => (
          <button key={one} type="button" aria-pressed={hours === one} onClick={() => setQuery({ hours: one === 8 ? '' : String(one) })}>
            {one === 72 ? '3 days' : `${one} h`}
          </button>
        ))}
      </div>
      {note.error !== undefined && (
        <p class="problem" role="alert">
          {note.error} <button type="button" onClick={note.reload}>Try again</button>
        </p>
      )}
      {note.value === undefined ? note.error === undefined && <p class="quiet">Loading the note…</p> : (
        <>
          <p>
            From {timeWords(Date.parse(note.value.fromAt), 'UTC')} to {timeWords(Date.parse(note.value.toAt), 'UTC')} UTC{by.trim() !== '' && <>, handed over by {by.trim()}</>}. <strong>{note.value.reporting} of {note.value.generators} reporting.</strong>
          </p>
          <form
            class="form no-print"
            onSubmit={(event) => {
              event.preventDefault();
              void send(async (name) => {
                await post('/hand-over/notes', { words: words.trim(), hours, by: name });
                forget('');
                notes.reload();
                return 'Kept. The next shift finds it below.';
              });
            }}
          >
            <NameField by={by} setBy={setBy} />
            <label class="field field-text">
              <span>Words to the next shift</span>
              <textarea rows={2} required maxLength={4000} value={words} onInput={(event) => setWords(event.currentTarget.value)} />
            </label>
            <button type="submit" class="primary" disabled={busy}>
              Keep these words
            </button>
            <SaidLine said={said} />
          </form>
          {words.trim() !== '' && <p class="only-print hand-words">{words.trim()}</p>}
          <Notes notes={notes.value?.items ?? []} known={notes.value !== undefined} error={notes.error} />
          <Part title="New" none="Nothing new was found." lines={note.value.fresh} at="found" />
          <Part title="Changed" none="Nobody changed anything." lines={note.value.changed} at="" />
          <Part title="Waiting for somebody" none="Nothing waits." lines={note.value.waiting} at="found" />
          <Part title="Work done, being checked" none="None." lines={note.value.checked} at="found" />
          <Part title="Visits under way, today and tomorrow" none="None." lines={note.value.visits} at="" />
          <Part title="Shelved, with its end" none="Nothing is shelved." lines={note.value.shelved} at={null} />
          <Part title="Not reporting, or in part" none="All report." lines={note.value.silent} at={null} />
        </>
      )}
    </>
  );
}

/** What earlier shifts told in their own words; kept for good. The newest is printed with the note. */
function Notes({ notes, known, error }: { readonly notes: readonly HandOverNote[]; readonly known: boolean; readonly error: string | undefined }) {
  return (
    <section class="hand-part hand-notes">
      <h2>
        Words of earlier shifts {notes.length > 0 && <span class="quiet">({notes.length === NOTES_SHOWN ? `the last ${NOTES_SHOWN}` : notes.length})</span>}
      </h2>
      {error !== undefined && <p class="problem" role="alert">{error}</p>}
      {!known && error === undefined && <p class="quiet">Loading…</p>}
      {known && notes.length === 0 && <p class="quiet">None is kept yet.</p>}
      <ul class="hand-lines">
        {notes.map((note) => (
          <li key={note.id}>
            <span class="quiet">{timeWords(Date.parse(note.at), 'UTC')} UTC, </span>
            <strong>{note.by}</strong>
            <span class="quiet">; {note.reporting} of {note.generators} were reporting</span>
            <span class="under hand-said">{note.words}</span>
          </li>
        ))}
      </ul>
    </section>
  );
}

/** `at`: what the time of a line is called; null where its words say it already. */
function Part(props: { readonly title: string; readonly none: string; readonly lines: readonly HandOverLine[]; readonly at: string | null }) {
  const { lines } = props;
  return (
    <section class="hand-part">
      <h2>
        {props.title} {lines.length > 0 && <span class="quiet">({lines.length})</span>}
      </h2>
      {lines.length === 0 ? <p class="quiet">{props.none}</p> : (
        <ul class="hand-lines">
          {lines.map((line, index) => (
            <li key={index}>
              <a href={line.finding === null ? generatorHref(line.site, line.generator) : `/findings/${encodeURIComponent(line.finding)}`}>
                {line.siteName}, {line.generatorName}
              </a>
              : {line.says}
              {line.at !== null && props.at !== null && <span class="quiet">; {props.at === '' ? '' : `${props.at} `}{timeWords(Date.parse(line.at), 'UTC')}</span>}
              {line.by !== null && <span>; {line.by}</span>}
              {line.note !== null && <span class="under">{line.note}</span>}
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}
