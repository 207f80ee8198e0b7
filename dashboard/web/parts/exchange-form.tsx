import { useState } from 'preact/hooks';
import type { SiteAsKept } from '../../../shared/settings-api.ts';
import { post } from '../api.ts';
import { useSend } from '../use-send.ts';
import { ChoiceField, NameField, SaidLine } from './form-fields.tsx';

/** Two generators whose gateways were exchanged: from now on each keeps its history under the id that it always had. */
export function ExchangeForm(props: { readonly kept: SiteAsKept; readonly onSaved: (words: string) => void }) {
  const ids = props.kept.site.generators.map((one) => one.id);
  const [one, setOne] = useState(ids[0] ?? '');
  const [other, setOther] = useState(ids[1] ?? '');
  const form = useSend();
  if (ids.length < 2) return null;
  const choices = ids.map((id) => [id, id] as const);
  const save = async (): Promise<void> => {
    let words = '';
    const done = await form.send(async (by) => {
      if (one === other) throw new Error('Please choose two generators.');
      await post('/registry/swap', { by, seenRecordedAt: props.kept.recordedAt, site: props.kept.site.id, one, other });
      words = `From now on, what arrives as ${one} is kept as ${other}, and the other way round. What was kept before stays where it is.`;
      return words;
    });
    if (done) props.onSaved(words);
  };
  return (
    <details class="no-print">
      <summary>The gateways of two generators were exchanged…</summary>
      <form
        class="form"
        aria-label="Exchange two generators"
        onSubmit={(event) => {
          event.preventDefault();
          void save();
        }}
      >
        <ChoiceField words="This generator" value={one} choices={choices} change={setOne} />
        <ChoiceField words="and this one" value={other} choices={choices} change={setOther} />
        <NameField by={form.by} setBy={form.setBy} />
        <div class="buttons">
          <button type="submit" disabled={form.busy}>
            Exchange them from now on
          </button>
        </div>
        <SaidLine said={form.said} />
      </form>
    </details>
  );
}
