import { useState } from 'preact/hooks';
import type { RegistryPreview } from '../../../shared/settings-api.ts';
import { fieldChangeWords } from '../../views/registry-changes.ts';
import { post } from '../api.ts';
import { useSend } from '../use-send.ts';
import { NameField, SaidLine } from './form-fields.tsx';

/** The registry as a file: out, and in again with a look at what changes before anything does. */
export function RegistryFile(props: { readonly onImported: () => void }) {
  const [text, setText] = useState('');
  const [preview, setPreview] = useState<RegistryPreview | undefined>(undefined);
  const form = useSend();
  const change = (next: string): void => {
    setText(next);
    setPreview(undefined);
    form.say(undefined);
  };
  const look = async (): Promise<void> => {
    try {
      setPreview(await post<RegistryPreview>('/registry/preview', { text }));
      form.say(undefined);
    } catch (error) {
      form.say({ problem: true, words: error instanceof Error ? error.message : String(error) });
    }
  };
  const apply = async (state: string): Promise<void> => {
    const done = await form.send(async (by) => {
      const { sites } = await post<{ sites: string[] }>('/registry/import', { by, text, state });
      return `${sites.length} ${sites.length === 1 ? 'site was' : 'sites were'} written: ${sites.join(', ')}.`;
    });
    if (!done) return;
    setText('');
    setPreview(undefined);
    props.onImported();
  };
  return (
    <section aria-labelledby="file-title" class="registry-file no-print">
      <h2 id="file-title">The registry as a file</h2>
      <p>
        <a class="button" href="/api/v1/registry.yaml" download>
          Export as YAML
        </a>
      </p>
      <label class="field">
        <span>Choose a file (YAML or JSON)…</span>
        <input type="file" accept=".yaml,.yml,.json" onChange={(event) => void event.currentTarget.files?.[0]?.text().then(change)} />
      </label>
      <label class="field">
        <span>…or paste its text</span>
        <textarea rows={6} spellcheck={false} value={text} onInput={(event) => change(event.currentTarget.value)} />
      </label>
      <div class="buttons">
        <button type="button" disabled={text.trim() === ''} onClick={() => void look()}>
          Show what it would change
        </button>
      </div>
      {preview !== undefined && <Preview preview={preview} />}
      {preview !== undefined && preview.problems.length === 0 && preview.changes.length > 0 && (
        <div class="in-line">
          <NameField by={form.by} setBy={form.setBy} />
          <button type="button" class="primary" disabled={form.busy} onClick={() => void apply(preview.state)}>
            Change {preview.changes.length} {preview.changes.length === 1 ? 'site' : 'sites'}
          </button>
        </div>
      )}
      <SaidLine said={form.said} />
    </section>
  );
}

function Preview({ preview }: { readonly preview: RegistryPreview }) {
  if (preview.problems.length > 0) {
    return (
      <div class="problem" role="alert">
        <p>Nothing can be taken over before this is put right:</p>
        <ul>
          {preview.problems.map((one) => (
            <li key={`${one.where} ${one.says}`}>
              <code>{one.where}</code> {one.says}
            </li>
          ))}
        </ul>
      </div>
    );
  }
  return (
    <div role="status">
      <p>
        {preview.changes.length === 0 ? 'It would change nothing.' : `It would change ${preview.changes.length} of ${preview.changes.length + preview.same.length} sites.`} {preview.notInFile.length > 0 && `Not in the file, and left as they are: ${preview.notInFile.join(', ')}.`}
      </p>
      {preview.changes.map(({ site, isNew, fields }) => (
        <details key={site} open={preview.changes.length <= 3}>
          <summary>
            <strong>{site}</strong> {isNew ? 'is new' : `${fields.length} ${fields.length === 1 ? 'change' : 'changes'}`}
          </summary>
          <ul>
            {fields.map((one) => (
              <li key={one.where}>{fieldChangeWords(one)}</li>
            ))}
          </ul>
        </details>
      ))}
    </div>
  );
}
