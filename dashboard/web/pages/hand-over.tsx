import { useEffect, useState } from 'preact/hooks';
import type { HandOver, HandOverLine } from '../../../shared/api.ts';
import { timeWords } from '../../views/site-time.ts';
import { get, query } from '../api.ts';
import { generatorHref, setQuery } from '../router.ts';
import { useResource } from '../use-resource.ts';
import { rememberedName, rememberName } from '../who.ts';

const HOURS = [8, 12, 24, 72] as const;

/** The note at the end of a shift, to be read aloud, sent or printed. Times are those of UTC, since a shift looks after sites of many zones. */
export function HandOverPage(props: { readonly query: URLSearchParams }) {
  const hours = HOURS.find((one) => String(one) === props.query.get('hours')) ?? 8;
  const [from, setFrom] = useState(rememberedName);
  const [words, setWords] = useState('');
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
            From {timeWords(Date.parse(note.value.fromAt), 'UTC')} to {timeWords(Date.parse(note.value.toAt), 'UTC')} UTC{from.trim() !== '' && <>, handed over by {from.trim()}</>}. <strong>{note.value.reporting} of {note.value.generators} reporting.</strong>
          </p>
          <form class="form no-print" onSubmit={(event) => event.preventDefault()}>
            <label class="field">
              <span>Handed over by</span>
              <input value={from} maxLength={80} autocomplete="name" onInput={(event) => (setFrom(event.currentTarget.value), rememberName(event.currentTarget.value.trim()))} />
            </label>
            <label class="field field-text">
              <span>Words to the next shift (printed with the note, kept nowhere else)</span>
              <textarea rows={2} maxLength={2000} value={words} onInput={(event) => setWords(event.currentTarget.value)} />
            </label>
          </form>
          {words.trim() !== '' && <p class="only-print hand-words">{words.trim()}</p>}
          <Part title="New" none="Nothing new was found." lines={note.value.fresh} at="found" />
          <Part title="Changed" none="Nobody changed anything." lines={note.value.changed} at="" />
          <Part title="Waiting for somebody" none="Nothing waits." lines={note.value.waiting} at="found" />
          <Part title="Visits under way, today and tomorrow" none="None." lines={note.value.visits} at="" />
          <Part title="Shelved, with its end" none="Nothing is shelved." lines={note.value.shelved} at={null} />
          <Part title="Not reporting, or in part" none="All report." lines={note.value.silent} at={null} />
        </>
      )}
    </>
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
