import { useState } from 'preact/hooks';
import type { ReplayAsked, ReplayChoices, ReplayInput, ReplayKind } from '../../../shared/world-replay.ts';
import { REPLAY_KIND_WORDS } from '../../views/replay-words.ts';
import { ChoiceField, TextField, YesField } from './form-fields.tsx';
import { FaultFields, firstOnset, firstStretch, sentFault, sentStretch, StretchFields, type TypedFault, zoneOfStretch } from './replay-history.tsx';
import { sentSettings, SettingsFields, typedSettings } from './replay-settings.tsx';

type Kind = 'file' | 'text' | 'random' | 'history' | 'rebuilt';
const KINDS: readonly (readonly [Kind, string])[] = [['file', 'invented: a scenario file'], ['text', 'invented: a pasted scenario'], ['random', 'invented: random generators'], ['history', 'real history, as it was received'], ['rebuilt', 'real history, rebuilt with a fault']];
const KIND_OF: Readonly<Record<Kind, ReplayKind>> = { file: 'simulated', text: 'simulated', random: 'simulated', history: 'history', rebuilt: 'rebuilt' };

/** What is to be replayed, and with which settings. What is wrong with it says the server, which knows the limits. */
export function ReplayForm(props: { readonly choices: ReplayChoices; readonly busy: boolean; readonly onAsk: (asked: ReplayAsked) => void }) {
  const { scenarios, history, faults, settings: program, settingsHash, most } = props.choices;
  const [kind, setKind] = useState<Kind>('file');
  const [file, setFile] = useState('');
  const [text, setText] = useState('');
  const [random, setRandom] = useState({ seed: '7', generators: '10', days: '120' });
  const [stretch, setStretch] = useState(() => firstStretch(history));
  const [fault, setFault] = useState<TypedFault>(() => ({ cause: 'leak', variant: 'piping', severity: 'marked', onset: firstOnset(stretch), shape: 'step', growDays: '30', channel: '' }));
  const [first, setFirst] = useState(() => typedSettings(program));
  const [other, setOther] = useState(() => typedSettings(program));
  const [compares, setCompares] = useState(false);
  const chosen = scenarios.find((one) => one.file === file) ?? scenarios[0];
  const kinds = history.length > 0 ? KINDS : KINDS.filter(([one]) => KIND_OF[one] === 'simulated');
  const input = (): ReplayInput | undefined => {
    if (kind === 'random') return { seed: Number(random.seed), generators: Number(random.generators), days: Number(random.days) };
    if (kind === 'text') return { text };
    if (kind === 'file') return chosen === undefined ? undefined : { scenario: chosen.file };
    const zone = zoneOfStretch(stretch.generators, history);
    return { history: sentStretch(stretch, zone), ...(kind === 'rebuilt' ? { fault: sentFault(fault, zone) } : {}) };
  };
  const ask = (event: Event): void => {
    event.preventDefault();
    const what = input();
    if (what !== undefined) props.onAsk({ ...what, settings: sentSettings(first), ...(compares ? { other: sentSettings(other) } : {}) });
  };
  const [label, says] = REPLAY_KIND_WORDS[KIND_OF[kind]];
  return (
    <form class="form replay-form" onSubmit={ask}>
      <ChoiceField words="What is replayed" value={kind} choices={kinds} change={(value) => setKind(value as Kind)} />
      {kind === 'file' && <ChoiceField words="Scenario file" value={chosen?.file ?? ''} choices={scenarios.map((one) => [one.file, `${one.name} (${one.generators} ${one.generators === 1 ? 'generator' : 'generators'}, ${one.days} days)`] as const)} change={setFile} />}
      {kind === 'text' && (
        <label class="field field-text">
          <span>Scenario, as YAML</span>
          <textarea rows={12} required maxLength={most.textLength} spellcheck={false} value={text} onInput={(event) => setText(event.currentTarget.value)} />
        </label>
      )}
      {kind === 'random' && (
        <>
          <TextField words="Seed" hint="odd; even ones are kept for the score table" value={random.seed} required change={(seed) => setRandom({ ...random, seed })} />
          <TextField words="Generators" hint={`at most ${most.generators}`} value={random.generators} required change={(generators) => setRandom({ ...random, generators })} />
          <TextField words="Days" hint={`at most ${most.days}`} value={random.days} required change={(days) => setRandom({ ...random, days })} />
        </>
      )}
      {(kind === 'history' || kind === 'rebuilt') && <StretchFields history={history} typed={stretch} change={setStretch} />}
      {kind === 'rebuilt' && <FaultFields faults={faults} typed={fault} change={setFault} />}
      <p class="quiet long">
        <strong>{label}</strong> {says}
      </p>
      <details class="replay-choose">
        <summary>
          Settings of the analysis{JSON.stringify(first) === JSON.stringify(typedSettings(program)) && !compares ? ': those of this program' : ''} (<code>{settingsHash}</code> here)
        </summary>
        <SettingsFields legend={compares ? 'Settings A' : 'Settings'} typed={first} program={program} change={setFirst} />
        <YesField words="Fold the same input once more with other settings, and compare" value={compares} change={setCompares} />
        {compares && <SettingsFields legend="Settings B" typed={other} program={program} change={setOther} />}
      </details>
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
