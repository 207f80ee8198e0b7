import { useState } from 'preact/hooks';
import type { SiteAsKept } from '../../../shared/settings-api.ts';
import { post } from '../api.ts';
import { useSend } from '../use-send.ts';
import { NameField, SaidLine, TextField, ZoneField } from './form-fields.tsx';
import { SinceField, sinceOf } from './since-field.tsx';

type Draft = { readonly id: string; readonly name: string; readonly timeZone: string; readonly area: string; readonly address: string; readonly access: string; readonly elevation: string };

function draftOf(kept: SiteAsKept | undefined, id: string): Draft {
  const site = kept?.site;
  return { id, name: site?.name ?? '', timeZone: site?.timeZone ?? Intl.DateTimeFormat().resolvedOptions().timeZone, area: site?.area ?? '', address: site?.address ?? '', access: site?.access ?? '', elevation: String(site?.elevationM ?? 0) };
}

/** The fields as the API takes them; what is empty is left out. */
function siteOf(draft: Draft): Record<string, unknown> {
  const elevationM = Number(draft.elevation.replace(',', '.'));
  if (draft.elevation.trim() === '' || !Number.isFinite(elevationM)) throw new Error('The height above sea level must be a number of metres.');
  const texts = Object.entries({ name: draft.name, area: draft.area, address: draft.address, access: draft.access }).filter(([, text]) => text.trim() !== '');
  return { id: draft.id.trim(), timeZone: draft.timeZone.trim(), elevationM, ...Object.fromEntries(texts.map(([name, text]) => [name, text.trim()])) };
}

/** A site: where it is, how one gets in, and which calendar its days follow. */
export function SiteForm(props: { readonly kept: SiteAsKept | undefined; readonly id?: string; readonly onSaved: (id: string, words: string) => void; readonly onCancel: () => void }) {
  const { kept } = props;
  const [draft, setDraft] = useState(() => draftOf(kept, kept?.site.id ?? props.id ?? ''));
  const [since, setSince] = useState('');
  const form = useSend();
  const change = (changes: Partial<Draft>): void => setDraft((old) => ({ ...old, ...changes }));
  const save = async (): Promise<void> => {
    let words = '';
    const done = await form.send(async (by) => {
      const site = siteOf(draft);
      await post('/registry/sites', { by, seenRecordedAt: kept?.recordedAt ?? null, ...(kept === undefined ? {} : sinceOf(since, kept.site.timeZone)), site });
      words = kept === undefined ? 'The site is registered.' : 'The site is kept.';
      return words;
    });
    if (done) props.onSaved(draft.id.trim(), words);
  };
  return (
    <form
      class="form"
      aria-label={kept === undefined ? 'New site' : `Site ${kept.site.id}`}
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      {kept === undefined && <TextField words="Id" hint="a-z, 0-9 and -, as its gateways send it; it stays" value={draft.id} most={64} required change={(id) => change({ id })} />}
      <TextField words="Name" value={draft.name} most={120} wide change={(name) => change({ name })} />
      <TextField words="Area" hint="for trips and notices" value={draft.area} most={120} change={(area) => change({ area })} />
      <ZoneField words="Time zone" value={draft.timeZone} change={(timeZone) => change({ timeZone })} />
      <TextField words="Address" value={draft.address} most={300} wide change={(address) => change({ address })} />
      <TextField words="Access" hint="gate, hours, whom to ring" value={draft.access} most={500} wide change={(access) => change({ access })} />
      <TextField words="Height above sea level" unit="m" value={draft.elevation} change={(elevation) => change({ elevation })} />
      <NameField by={form.by} setBy={form.setBy} />
      {kept !== undefined && <SinceField value={since} zone={kept.site.timeZone} change={setSince} />}
      <div class="buttons">
        <button type="submit" class="primary" disabled={form.busy}>
          {kept === undefined ? 'Register the site' : 'Keep the changes'}
        </button>
        <button type="button" onClick={props.onCancel}>
          Cancel
        </button>
      </div>
      <SaidLine said={form.said} />
    </form>
  );
}
