import { useRef, useState } from 'preact/hooks';
import type { VisitPosted } from '../../../shared/api.ts';
import type { EntryKind } from '../../../shared/entry.ts';
import type { Part } from '../../../shared/registry.ts';
import { ENTRY_KIND_WORDS, PART_WORDS } from '../../views/domain-words.ts';
import { MEASURED } from '../../views/measured-words.ts';
import { inKeptUnit, shownUnit } from '../../views/shown-units.ts';
import { msOfWallTime, wallTime } from '../../views/site-time.ts';
import { post } from '../api.ts';
import { useKept } from '../use-kept.ts';
import { rememberedName, rememberName } from '../who.ts';

const KINDS = Object.keys(ENTRY_KIND_WORDS) as EntryKind[];
const PARTS = Object.keys(PART_WORDS) as Part[];
type Draft = { readonly kind: EntryKind; readonly started: string; readonly finished: string; readonly replaced: readonly Part[]; readonly asFound: Readonly<Record<string, string>>; readonly asLeft: Readonly<Record<string, string>>; readonly note: string; readonly by: string };

/** Numbers that were typed; `undefined` when one is none. Empty fields are left out. */
function numbersOf(typed: Readonly<Record<string, string>>): Record<string, number> | undefined {
  const numbers: Record<string, number> = {};
  for (const [name, text] of Object.entries(typed)) {
    if (text.trim() === '') continue;
    const value = Number(text.trim().replace(',', '.'));
    if (!Number.isFinite(value)) return undefined;
    numbers[name] = Number(inKeptUnit(value, MEASURED.find((one) => one.name === name)?.unit ?? '').toPrecision(6));
  }
  return numbers;
}

/** The entry that the draft stands for, or what keeps it from being one. */
function entryOf(draft: Draft, zone: string): Record<string, unknown> | string {
  const startedMs = msOfWallTime(draft.started, zone);
  const finishedMs = draft.finished === '' ? undefined : msOfWallTime(draft.finished, zone);
  const asFound = numbersOf(draft.asFound);
  const asLeft = numbersOf(draft.asLeft);
  if (draft.by.trim() === '') return 'Please type your name.';
  if (startedMs === undefined) return 'Please say when it began.';
  if (draft.finished !== '' && finishedMs === undefined) return 'The end is no time: please choose one or leave it empty.';
  if (finishedMs !== undefined && finishedMs < startedMs) return 'The end lies before the beginning.';
  if (asFound === undefined || asLeft === undefined) return 'One of the numbers as found or as left is no number.';
  return {
    kind: draft.kind,
    startedAt: new Date(startedMs).toISOString(),
    ...(finishedMs === undefined ? {} : { finishedAt: new Date(finishedMs).toISOString() }),
    replaced: draft.replaced,
    readings: { ...(Object.keys(asFound).length > 0 ? { asFound } : {}), ...(Object.keys(asLeft).length > 0 ? { asLeft } : {}) },
    ...(draft.note.trim() === '' ? {} : { note: draft.note.trim() }),
    by: draft.by.trim(),
  };
}

export function VisitForm(props: { readonly site: string; readonly generator: string; readonly zone: string; readonly nowMs: number; readonly onSaved: () => void }) {
  const { zone } = props;
  const empty = (): Draft => ({ kind: 'service', started: wallTime(props.nowMs - 3_600_000, zone), finished: wallTime(props.nowMs, zone), replaced: [], asFound: {}, asLeft: {}, note: '', by: rememberedName() });
  const kept = useKept<Draft>(`entry ${props.site}/${props.generator}`, empty);
  const [open, setOpen] = useState<'no' | 'anew' | 'again'>(kept.found ? 'again' : 'no');
  const draft = open === 'no' ? undefined : kept.value;
  const leave = (): void => {
    kept.forget(empty());
    setOpen('no');
  };
  const [said, setSaid] = useState<{ readonly problem: boolean; readonly words: string } | undefined>(undefined);
  const [busy, setBusy] = useState(false);
  const title = useRef<HTMLHeadingElement>(null);
  const change = (changes: Partial<Draft>): void => kept.set({ ...kept.value, ...changes });

  const save = async (): Promise<void> => {
    if (draft === undefined) return;
    const entry = entryOf(draft, zone);
    if (typeof entry === 'string') return setSaid({ problem: true, words: entry });
    setBusy(true);
    try {
      await post<VisitPosted>('/visits', { site: props.site, generator: props.generator, ...entry });
      rememberName(draft.by.trim());
      setSaid({ problem: false, words: 'The visit is recorded. Baselines of what was replaced start anew.' });
      leave();
      title.current?.focus();
      props.onSaved();
    } catch (error) {
      setSaid({ problem: true, words: error instanceof Error ? error.message : String(error) });
    }
    setBusy(false);
  };

  return (
    <section aria-labelledby="visit-form-title" class="no-print">
      <h2 id="visit-form-title" ref={title} tabIndex={-1}>Record a visit</h2>
      {said !== undefined && (
        <p class={said.problem ? 'problem' : 'done'} role={said.problem ? 'alert' : 'status'}>
          {said.words}
        </p>
      )}
      {draft === undefined ? (
        <button
          type="button"
          onClick={() => {
            setSaid(undefined);
            kept.forget(empty());
            setOpen('anew');
          }}
        >
          Record a visit or a test…
        </button>
      ) : (
        <form
          class="form"
          onSubmit={(event) => {
            event.preventDefault();
            void save();
          }}
        >
          {open === 'again' && <p class="quiet">Begun earlier and kept in this browser; it is not sent yet.</p>}
          <Basics draft={draft} zone={zone} change={change} />
          <fieldset>
            <legend>Replaced</legend>
            <div class="checks">
              {PARTS.map((part) => (
                <label key={part}>
                  <input type="checkbox" checked={draft.replaced.includes(part)} onChange={(event) => change({ replaced: event.currentTarget.checked ? [...draft.replaced, part] : draft.replaced.filter((one) => one !== part) })} /> {PART_WORDS[part]}
                </label>
              ))}
            </div>
          </fieldset>
          <Measured title="As found" values={draft.asFound} change={(asFound) => change({ asFound })} />
          <Measured title="As left" values={draft.asLeft} change={(asLeft) => change({ asLeft })} />
          <label class="field field-text">
            <span>Note (may be left empty)</span>
            <textarea rows={3} maxLength={4000} value={draft.note} onInput={(event) => change({ note: event.currentTarget.value })} />
          </label>
          <div class="buttons">
            <button type="submit" class="primary" disabled={busy}>
              Record it
            </button>
            <button type="button" onClick={leave}>
              Cancel
            </button>
          </div>
        </form>
      )}
    </section>
  );
}

function Basics(props: { readonly draft: Draft; readonly zone: string; readonly change: (changes: Partial<Draft>) => void }) {
  const { draft, zone, change } = props;
  return (
    <>
      <label class="field">
        <span>Your name</span>
        <input value={draft.by} required maxLength={80} autocomplete="name" onInput={(event) => change({ by: event.currentTarget.value })} />
      </label>
      <label class="field">
        <span>What it was</span>
        <select value={draft.kind} onChange={(event) => change({ kind: event.currentTarget.value as EntryKind })}>
          {KINDS.map((kind) => (
            <option key={kind} value={kind}>
              {ENTRY_KIND_WORDS[kind]}
            </option>
          ))}
        </select>
      </label>
      <label class="field field-time">
        <span>Began ({zone})</span>
        <input type="datetime-local" required value={draft.started} onInput={(event) => change({ started: event.currentTarget.value })} />
      </label>
      <label class="field field-time">
        <span>Ended ({zone}; may be left empty)</span>
        <input type="datetime-local" value={draft.finished} onInput={(event) => change({ finished: event.currentTarget.value })} />
      </label>
    </>
  );
}

function Measured(props: { readonly title: string; readonly values: Readonly<Record<string, string>>; readonly change: (values: Readonly<Record<string, string>>) => void }) {
  return (
    <fieldset>
      <legend>{props.title} (what you have; the rest may be left empty)</legend>
      <div class="measured">
        {MEASURED.map(({ name, words, unit }) => (
          <label key={name} class="field">
            <span>
              {words}, {shownUnit(unit)}
            </span>
            <input inputMode="decimal" value={props.values[name] ?? ''} onInput={(event) => props.change({ ...props.values, [name]: event.currentTarget.value })} />
          </label>
        ))}
      </div>
    </fieldset>
  );
}
