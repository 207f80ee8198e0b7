import { useRef, useState } from 'preact/hooks';
import type { ActionBody } from '../../../shared/api.ts';
import type { Finding } from '../../../shared/finding.ts';
import { CLOSING_WORDS } from '../../views/domain-words.ts';
import { msOfWallTime, wallTime } from '../../views/site-time.ts';
import { post } from '../api.ts';
import { useKept } from '../use-kept.ts';
import { rememberedName, rememberName } from '../who.ts';

export type Verb = 'acknowledge' | 'shelve' | 'unshelve' | 'close' | 'correct' | 'reopen' | 'note';
const VERB_WORDS: Readonly<Record<Verb, string>> = { acknowledge: 'Acknowledge', shelve: 'Shelve until…', unshelve: 'Take off the shelf', close: 'Close with a reason…', correct: 'Correct the closing…', reopen: 'Reopen', note: 'Add a note…' };
const REASONS = ['improved', 'not-confirmed', 'false'] as const;
const DAY_MS = 86_400_000;

function verbsOf(finding: Finding): readonly Verb[] {
  if (finding.state === 'closed') return ['correct', 'reopen', 'note'];
  return [...(finding.state === 'new' ? (['acknowledge'] as const) : []), finding.shelvedUntil === null ? 'shelve' : 'unshelve', 'close', 'note'];
}

/** What a person can do about a finding. Each wants a name and says what it did; nothing is undone silently. */
export function FindingActions(props: { readonly finding: Finding; readonly zone: string; readonly nowMs: number; readonly onChanged: () => void }) {
  const { finding } = props;
  const [verb, setVerb] = useState<Verb | undefined>(undefined);
  const actions = useRef<HTMLDivElement>(null);
  const done = (): void => {
    setVerb(undefined);
    // The form goes; the keyboard stays where it was.
    actions.current?.querySelector('button')?.focus();
  };
  return (
    <div class="actions" ref={actions}>
      <div class="buttons">
        {verbsOf(finding).map((one) => (
          <button key={one} type="button" aria-expanded={verb === one} onClick={() => setVerb(verb === one ? undefined : one)}>
            {VERB_WORDS[one]}
          </button>
        ))}
      </div>
      {verb !== undefined && <ActionForm key={verb} {...props} verb={verb} onDone={done} />}
    </div>
  );
}

export function ActionForm(props: { readonly finding: Pick<Finding, 'id' | 'closedReason'>; readonly verb: Verb; readonly zone: string; readonly nowMs: number; readonly onChanged: () => void; readonly onDone: () => void }) {
  const { finding, verb, zone } = props;
  const [by, setBy] = useState(rememberedName);
  const { value: note, set: setNote, forget } = useKept<string>(`${verb} ${finding.id}`, () => '');
  const leave = (): void => {
    forget('');
    props.onDone();
  };
  const [until, setUntil] = useState(() => wallTime(props.nowMs + 7 * DAY_MS, zone));
  const [reason, setReason] = useState<(typeof REASONS)[number]>(finding.closedReason === 'improved' ? 'not-confirmed' : 'improved');
  const [problem, setProblem] = useState<string | undefined>(undefined);
  const [busy, setBusy] = useState(false);

  const send = async (): Promise<void> => {
    const untilMs = msOfWallTime(until, zone);
    if (by.trim() === '') return setProblem('Please type your name.');
    if (verb === 'note' && note.trim() === '') return setProblem('Please type the note.');
    if (verb === 'shelve' && (untilMs === undefined || untilMs <= props.nowMs)) return setProblem('Shelving ends at a time to come: please choose one.');
    const body: ActionBody = {
      by: by.trim(),
      ...(note.trim() === '' ? {} : { note: note.trim() }),
      ...(verb === 'shelve' && untilMs !== undefined ? { untilAt: new Date(untilMs).toISOString() } : {}),
      ...(verb === 'close' || verb === 'correct' ? { reason } : {}),
    };
    setBusy(true);
    try {
      await post<Finding>(`/findings/${encodeURIComponent(finding.id)}/${verb === 'correct' ? 'close' : verb}`, body);
      rememberName(by.trim());
      leave();
      props.onChanged();
    } catch (error) {
      setProblem(error instanceof Error ? error.message : String(error));
      setBusy(false);
    }
  };

  return (
    <form
      class="form"
      onSubmit={(event) => {
        event.preventDefault();
        void send();
      }}
    >
      <label class="field">
        <span>Your name</span>
        <input value={by} autocomplete="name" required maxLength={80} onInput={(event) => setBy(event.currentTarget.value)} />
      </label>
      {verb === 'shelve' && (
        <label class="field field-time">
          <span>Shelve until ({zone})</span>
          <input type="datetime-local" value={until} required onInput={(event) => setUntil(event.currentTarget.value)} />
        </label>
      )}
      {(verb === 'close' || verb === 'correct') && (
        <label class="field">
          <span>Reason</span>
          <select value={reason} onChange={(event) => setReason(event.currentTarget.value as (typeof REASONS)[number])}>
            {REASONS.map((one) => (
              <option key={one} value={one}>
                {CLOSING_WORDS[one]}
              </option>
            ))}
          </select>
        </label>
      )}
      <label class="field field-text">
        <span>{verb === 'note' ? 'Note' : 'Note (may be left empty)'}</span>
        <textarea value={note} rows={2} maxLength={4000} onInput={(event) => setNote(event.currentTarget.value)} />
      </label>
      <div class="buttons">
        <button type="submit" class="primary" disabled={busy}>
          {VERB_WORDS[verb].replace('…', '')}
        </button>
        <button type="button" onClick={leave}>
          Cancel
        </button>
      </div>
      {problem !== undefined && (
        <p class="problem" role="alert">
          {problem}
        </p>
      )}
    </form>
  );
}
