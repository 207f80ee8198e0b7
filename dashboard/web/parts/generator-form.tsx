import { useState } from 'preact/hooks';
import type { GeneratorRecord, Part } from '../../../shared/registry.ts';
import type { RegistryWrite, SiteAsKept } from '../../../shared/settings-api.ts';
import { PART_WORDS } from '../../views/domain-words.ts';
import { fieldText, fieldUnit, type FormField, GENERATOR_FIELDS, withField } from '../../views/registry-fields.ts';
import { post } from '../api.ts';
import { useSend } from '../use-send.ts';
import { ChoiceField, NameField, SaidLine, TextField, YesField } from './form-fields.tsx';
import { ChannelRows, RiserRows, ValveRows } from './generator-lists.tsx';
import { SinceField, sinceOf } from './since-field.tsx';

const PARTS = Object.keys(PART_WORDS) as Part[];
const ALL_FIELDS = GENERATOR_FIELDS.flatMap((one) => one.fields);
const nameOf = (field: FormField): string => field.path.join('.');
/** Fields that leave a generator without what the fold needs are taken out, not written as empty text. */
const textsOf = (generator: GeneratorRecord): Record<string, string> => Object.fromEntries(ALL_FIELDS.map((field) => [nameOf(field), fieldText(generator, field)]));

/** Every field of one generator; what is kept is a new writing of its site, with who and since when. */
export function GeneratorForm(props: { readonly kept: SiteAsKept; readonly generator: GeneratorRecord; readonly isNew: boolean; readonly onSaved: (words: string) => void; readonly onCancel: () => void }) {
  const { kept, generator } = props;
  const [texts, setTexts] = useState(() => textsOf(generator));
  const [fitted, setFitted] = useState(generator.fitted);
  const [risers, setRisers] = useState(generator.risers);
  const [valves, setValves] = useState(generator.valves);
  const [channels, setChannels] = useState(generator.channels);
  const [since, setSince] = useState('');
  const form = useSend();

  const complete = (): GeneratorRecord => {
    let record: GeneratorRecord = { ...generator, fitted: Object.fromEntries(Object.entries(fitted).filter(([, day]) => day !== '')), risers, valves, channels };
    for (const field of ALL_FIELDS) {
      const next = withField(record, field, texts[nameOf(field)] ?? '');
      if ('wrong' in next) throw new Error(next.wrong);
      record = next;
    }
    return record;
  };
  const save = async (): Promise<void> => {
    let words = '';
    const done = await form.send(async (by) => {
      const write: RegistryWrite = { by, seenRecordedAt: kept.recordedAt, ...sinceOf(since, kept.site.timeZone) };
      await post('/registry/generators', { ...write, site: kept.site.id, generator: complete() });
      words = `${generator.id} is kept. Analysis takes it over at its next tick, within 10 minutes.`;
      return words;
    });
    if (done) props.onSaved(words);
  };
  return (
    <form
      class="form"
      aria-label={`Generator ${generator.id}`}
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      {GENERATOR_FIELDS.map(({ heading, fields }) => (
        <fieldset key={heading}>
          <legend>{heading}</legend>
          <div class="in-line">
            {fields.map((field) => (
              <OneField key={nameOf(field)} field={field} text={texts[nameOf(field)] ?? ''} change={(text) => setTexts((old) => ({ ...old, [nameOf(field)]: text }))} />
            ))}
          </div>
        </fieldset>
      ))}
      <details>
        <summary>When each part was fitted{Object.keys(generator.fitted).length > 0 ? ` (${Object.keys(generator.fitted).length} known)` : ''}</summary>
        <div class="measured">
          {PARTS.map((part) => (
            <TextField key={part} words={PART_WORDS[part]} type="date" value={fitted[part] ?? ''} change={(day) => setFitted((old) => ({ ...old, [part]: day }))} />
          ))}
        </div>
      </details>
      <details>
        <summary>Risers ({risers.length})</summary>
        <RiserRows risers={risers} change={setRisers} />
      </details>
      <details>
        <summary>Valves, with their normal position ({valves.length})</summary>
        <ValveRows valves={valves} change={setValves} />
      </details>
      <details>
        <summary>Channels that need a word of explanation ({Object.keys(channels).length})</summary>
        <ChannelRows channels={channels} change={setChannels} />
      </details>
      <NameField by={form.by} setBy={form.setBy} />
      <SinceField value={since} zone={kept.site.timeZone} change={setSince} />
      <div class="buttons">
        <button type="submit" class="primary" disabled={form.busy}>
          {props.isNew ? 'Register it' : 'Keep the changes'}
        </button>
        <button type="button" onClick={props.onCancel}>
          Cancel
        </button>
      </div>
      <SaidLine said={form.said} />
    </form>
  );
}

function OneField(props: { readonly field: FormField; readonly text: string; readonly change: (text: string) => void }) {
  const { field, text, change } = props;
  if (field.kind === 'yes') return <YesField words={field.words} value={text === 'true'} change={(value) => change(String(value))} />;
  if (field.kind === 'choice') return <ChoiceField words={field.words} value={text} choices={field.choices} change={change} />;
  if (field.kind === 'date') return <TextField words={field.words} type="date" value={text} change={change} />;
  return <TextField words={field.words} unit={fieldUnit(field)} hint={field.hint} value={text} change={change} {...(field.kind === 'text' && { most: field.most })} />;
}
