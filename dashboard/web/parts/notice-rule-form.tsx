import { useState } from 'preact/hooks';
import type { Cause, CauseFamily } from '../../../shared/finding.ts';
import type { NoticeChange, NoticeRuleBody, NoticeRuleShown } from '../../../shared/notice.ts';
import { mustGoAtOnce } from '../../views/cause-words.ts';
import { CAUSE_WORDS } from '../../views/domain-words.ts';
import { FAMILY_WORDS, NOTICE_CHANGE_WORDS } from '../../views/notice-words.ts';
import { post } from '../api.ts';
import { useSend } from '../use-send.ts';
import { ChoiceField, ManyField, NameField, SaidLine, TextField, YesField, ZoneField } from './form-fields.tsx';

type Draft = Omit<NoticeRuleShown, 'id' | 'to'> & { readonly id?: string; readonly kind: 'email' | 'webhook'; readonly place: string; readonly secret: string };

const CAUSE_NAMES = Object.keys(CAUSE_WORDS) as Cause[];
const causeOptions = CAUSE_NAMES.map((cause) => [cause, CAUSE_WORDS[cause]] as const);
const familyOptions = Object.entries(FAMILY_WORDS) as [CauseFamily, string][];
const changeOptions = Object.entries(NOTICE_CHANGE_WORDS) as [NoticeChange, string][];

function draftOf(rule: NoticeRuleShown | undefined): Draft {
  if (rule !== undefined) {
    const { to, ...rest } = rule;
    return { ...rest, kind: to.kind, place: to.kind === 'email' ? to.address : to.url, secret: '' };
  }
  return {
    name: '', enabled: true, kind: 'email', place: '', secret: '', timeZone: Intl.DateTimeFormat().resolvedOptions().timeZone, families: [], causes: [], areas: [], sites: [], changes: ['opened', 'reopened', 'off-the-shelf'],
    when: 'at-once', digestAt: '07:00', quietHours: null, atOnceCauses: CAUSE_NAMES.filter((cause) => mustGoAtOnce(cause)),
  };
}

function bodyOf({ kind, place, secret, ...rule }: Draft, by: string): NoticeRuleBody {
  return { by, rule: { ...rule, to: kind === 'email' ? { kind, address: place.trim() } : { kind, url: place.trim(), ...(secret === '' ? {} : { secret }) } } };
}

/** A fresh secret of 32 bytes, made in this browser. */
function newSecret(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(32));
  return `whsec_${btoa(String.fromCharCode(...bytes))}`;
}

/** Make a rule or change one: who, where to, what of, and when. */
export function NoticeRuleForm(props: { readonly rule: NoticeRuleShown | undefined; readonly areas: readonly string[]; readonly sites: readonly (readonly [id: string, name: string])[]; readonly onDone: (words: string | undefined) => void }) {
  const [draft, setDraft] = useState(() => draftOf(props.rule));
  const form = useSend();
  const change = (changes: Partial<Draft>): void => setDraft((old) => ({ ...old, ...changes }));
  const save = async (): Promise<void> => {
    let words = '';
    const done = await form.send(async (by) => {
      const rule = await post<NoticeRuleShown>('/notice-rules', bodyOf(draft, by));
      words = `The rule "${rule.name}" is kept. Send a test to see that it arrives.`;
      return words;
    });
    if (done) props.onDone(words);
  };
  return (
    <form
      class="form"
      aria-label={props.rule === undefined ? 'New rule' : `Change the rule ${props.rule.name}`}
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      <NameField by={form.by} setBy={form.setBy} />
      <TextField words="Name of the rule" value={draft.name} most={80} required change={(name) => change({ name })} hint="such as night desk" />
      <ChoiceField words="Told by" value={draft.kind} choices={[['email', 'e-mail'], ['webhook', 'webhook, to a program']]} change={(kind) => change({ kind: kind as Draft['kind'], place: '' })} />
      <TextField words={draft.kind === 'email' ? 'E-mail address' : 'Address (https://…)'} type={draft.kind === 'email' ? 'email' : 'url'} wide required value={draft.place} change={(place) => change({ place })} />
      {draft.kind === 'webhook' && <Secret draft={draft} known={props.rule?.to.kind === 'webhook'} change={change} />}
      <When draft={draft} change={change} />
      <ManyField legend="What is told" options={changeOptions} chosen={draft.changes} change={(changes) => change({ changes: [...changes] })} />
      <ManyField legend="Of which families of causes (none chosen: of all)" options={familyOptions} chosen={draft.families} change={(families) => change({ families: [...families] })} />
      <details>
        <summary>Only some causes, areas or sites</summary>
        <ManyField legend="Causes, beside the families chosen above" options={causeOptions} chosen={draft.causes} change={(causes) => change({ causes: [...causes] })} />
        {props.areas.length > 0 && <ManyField legend="Areas (none chosen: all)" options={props.areas.map((area) => [area, area] as const)} chosen={draft.areas} change={(areas) => change({ areas: [...areas] })} />}
        {props.sites.length > 0 && <ManyField legend="Sites (none chosen: all)" options={props.sites} chosen={draft.sites} change={(sites) => change({ sites: [...sites] })} />}
      </details>
      <details>
        <summary>Told at once, even in quiet hours and outside the digest: {draft.atOnceCauses.length === 0 ? 'nothing' : draft.atOnceCauses.map((cause) => CAUSE_WORDS[cause].toLowerCase()).join(', ')}</summary>
        <ManyField legend="Causes that are told at once" options={causeOptions} chosen={draft.atOnceCauses} change={(atOnceCauses) => change({ atOnceCauses: [...atOnceCauses] })} />
      </details>
      <YesField words="This rule is in use" value={draft.enabled} change={(enabled) => change({ enabled })} />
      <div class="buttons">
        <button type="submit" class="primary" disabled={form.busy}>
          Keep the rule
        </button>
        <button type="button" onClick={() => props.onDone(undefined)}>
          Cancel
        </button>
      </div>
      <SaidLine said={form.said} />
    </form>
  );
}

type Part = { readonly draft: Draft; readonly change: (changes: Partial<Draft>) => void };

function Secret({ draft, known, change }: Part & { readonly known: boolean }) {
  return (
    <div class="secret">
      <TextField words="Secret" wide most={200} value={draft.secret} change={(secret) => change({ secret })} hint={known ? 'empty: the one that is kept' : 'whsec_…, the same at the receiver'} />
      <button type="button" onClick={() => change({ secret: newSecret() })}>
        Make one
      </button>
      <p class="quiet">Copy it to the receiver now: after this it is kept, but never shown again. Messages are signed after Standard Webhooks.</p>
    </div>
  );
}

function When({ draft, change }: Part) {
  const quiet = draft.quietHours;
  return (
    <fieldset>
      <legend>When</legend>
      <div class="in-line">
        <ChoiceField words="Sent" value={draft.when} choices={[['at-once', 'at once'], ['digest', 'once a day, together']]} change={(when) => change({ when: when as Draft['when'] })} />
        {draft.when === 'digest' && <TextField words="At" type="time" value={draft.digestAt} required change={(digestAt) => change({ digestAt })} />}
        <ZoneField words="In the zone" value={draft.timeZone} change={(timeZone) => change({ timeZone })} />
        <YesField words="Quiet hours" value={quiet !== null} change={(on) => change({ quietHours: on ? { from: '22:00', to: '07:00' } : null })} />
        {quiet !== null && (
          <>
            <TextField words="Quiet from" type="time" value={quiet.from} required change={(from) => change({ quietHours: { ...quiet, from } })} />
            <TextField words="until" type="time" value={quiet.to} required change={(to) => change({ quietHours: { ...quiet, to } })} />
          </>
        )}
      </div>
    </fieldset>
  );
}
