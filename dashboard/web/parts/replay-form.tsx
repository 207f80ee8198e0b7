import { useState } from 'preact/hooks';
import type { ReplayAsked, ReplayChoices } from '../../../shared/world-replay.ts';
import { ChoiceField, TextField } from './form-fields.tsx';

type Kind = 'file' | 'text' | 'random';
const KINDS: readonly (readonly [Kind, string])[] = [['file', 'a scenario file'], ['text', 'a pasted scenario'], ['random', 'random generators']];

/** Which invented world is to be replayed. What is wrong with it says the server, which knows the limits. */
export function ReplayForm(props: { readonly choices: ReplayChoices; readonly busy: boolean; readonly onAsk: (asked: ReplayAsked) => void }) {
  const [kind, setKind] = useState<Kind>('file');
  const [file, setFile] = useState('');
  const [text, setText] = useState('');
  const [seed, setSeed] = useState('7');
  const [generators, setGenerators] = useState('10');
  const [days, setDays] = useState('120');
  const { scenarios, most } = props.choices;
  const chosen = scenarios.find((one) => one.file === file) ?? scenarios[0];
  const ask = (event: Event): void => {
    event.preventDefault();
    if (kind === 'random') props.onAsk({ seed: Number(seed), generators: Number(generators), days: Number(days) });
    else if (kind === 'text') props.onAsk({ text });
    else if (chosen !== undefined) props.onAsk({ scenario: chosen.file });
  };
  return (
    <form class="form" onSubmit={ask}>
      <ChoiceField words="World" value={kind} choices={KINDS} change={(value) => setKind(value as Kind)} />
      {kind === 'file' && <ChoiceField words="Scenario file" value={chosen?.file ?? ''} choices={scenarios.map((one) => [one.file, `${one.name} (${one.generators} ${one.generators === 1 ? 'generator' : 'generators'}, ${one.days} days)`] as const)} change={setFile} />}
      {kind === 'text' && (
        <label class="field field-text">
          <span>Scenario, as YAML</span>
          <textarea rows={12} required maxLength={most.textLength} spellcheck={false} value={text} onInput={(event) => setText(event.currentTarget.value)} />
        </label>
      )}
      {kind === 'random' && (
        <>
          <TextField words="Seed" hint="odd; even ones are kept for the score table" value={seed} required change={setSeed} />
          <TextField words="Generators" hint={`at most ${most.generators}`} value={generators} required change={setGenerators} />
          <TextField words="Days" hint={`at most ${most.days}`} value={days} required change={setDays} />
        </>
      )}
      <p class="buttons">
        <button type="submit" class="primary" disabled={props.busy}>
          Run
        </button>
        {kind === 'file' && chosen !== undefined && (
          <button type="button" onClick={() => (setText(chosen.text), setKind('text'))}>
            Change its text…
          </button>
        )}
      </p>
    </form>
  );
}
