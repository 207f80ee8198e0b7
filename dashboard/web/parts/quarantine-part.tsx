import { useState } from 'preact/hooks';
import type { Page, QuarantineItem, ReleaseAnswer } from '../../../shared/api.ts';
import type { QuarantineReason } from '../../../shared/quarantine.ts';
import { REFUSAL_WORDS } from '../../views/domain-words.ts';
import { ageWords, timeWords } from '../../views/site-time.ts';
import { get, post, query } from '../api.ts';
import { useResource } from '../use-resource.ts';
import { rememberedName, rememberName } from '../who.ts';

const REASONS = Object.keys(REFUSAL_WORDS) as QuarantineReason[];
const SHOWN_LETTERS = 2000;

/** What arrived and was not taken, why, and a way to take it after a correction. Nothing here is thrown away unseen. */
export function QuarantinePart(props: { readonly nowMs: number }) {
  const [reason, setReason] = useState('');
  const [by, setBy] = useState(rememberedName);
  const [said, setSaid] = useState<{ readonly problem: boolean; readonly words: string } | undefined>(undefined);
  const list = useResource<Page<QuarantineItem>>(`quarantine ${reason}`, () => get<Page<QuarantineItem>>(`/quarantine${query({ reason, released: 'false', limit: 100 })}`));
  const waiting = (list.value?.items ?? []).filter((item) => item.releasedMs === null);

  const release = async (ids: readonly number[]): Promise<void> => {
    if (by.trim() === '') return setSaid({ problem: true, words: 'Please type your name before releasing.' });
    try {
      const answer = await post<ReleaseAnswer>('/quarantine/release', { ids, by: by.trim() });
      rememberName(by.trim());
      setSaid({ problem: answer.stillRefused > 0, words: `${answer.released} released${answer.stillRefused > 0 ? `; ${answer.stillRefused} still refused for the same reason: correct the registry or the gateway first` : ''}.` });
      list.reload();
    } catch (error) {
      setSaid({ problem: true, words: error instanceof Error ? error.message : String(error) });
    }
  };

  return (
    <section id="quarantine" aria-labelledby="quarantine-title">
      <h2 id="quarantine-title">Quarantine</h2>
      <p>What arrived and could not be taken as a reading, kept for 90 days. After a correction it can be released; it is then read again.</p>
      <div class="filters">
        <label class="field">
          <span>Reason</span>
          <select value={reason} onChange={(event) => setReason(event.currentTarget.value)}>
            <option value="">all</option>
            {REASONS.map((one) => (
              <option key={one} value={one}>
                {REFUSAL_WORDS[one]}
              </option>
            ))}
          </select>
        </label>
        <label class="field">
          <span>Your name (for a release)</span>
          <input value={by} maxLength={80} autocomplete="name" onInput={(event) => setBy(event.currentTarget.value)} />
        </label>
        <button type="button" onClick={list.reload}>
          Load again
        </button>
        {waiting.length > 1 && (
          <button type="button" onClick={() => void release(waiting.map((item) => item.id))}>
            Release these {waiting.length}
          </button>
        )}
      </div>
      {said !== undefined && (
        <p class={said.problem ? 'problem' : 'done'} role={said.problem ? 'alert' : 'status'}>
          {said.words}
        </p>
      )}
      {list.error !== undefined && (
        <p class="problem" role="alert">
          {list.error}
        </p>
      )}
      {list.value === undefined && list.error === undefined && <p class="quiet">Loading…</p>}
      {list.value !== undefined && waiting.length === 0 && <p class="quiet">Nothing waits here.</p>}
      <ol class="packets">
        {waiting.map((item) => (
          <li key={item.id}>
            <details>
              <summary>
                <strong>{REFUSAL_WORDS[item.reason]}</strong>
                {`: ${item.generator ?? item.topic}${item.channel === null ? '' : `, ${item.channel}`}, ${ageWords(item.receivedMs, props.nowMs)}`}
              </summary>
              <p>{item.says}</p>
              <p>
                <code>{item.topic}</code> at {timeWords(item.receivedMs, 'UTC')} UTC
              </p>
              <pre tabIndex={0}>{item.payload.length > SHOWN_LETTERS ? `${item.payload.slice(0, SHOWN_LETTERS)}… (${item.payload.length} letters)` : item.payload}</pre>
              <button type="button" onClick={() => void release([item.id])}>
                Release this one
              </button>
            </details>
          </li>
        ))}
      </ol>
      {list.value?.next != null && <p class="quiet">More wait than the 100 newest that are shown here.</p>}
    </section>
  );
}
