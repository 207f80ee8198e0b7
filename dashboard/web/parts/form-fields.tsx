import type { ComponentChildren } from 'preact';
import type { Said, Send } from '../use-send.ts';

/** The name that goes with what is sent. */
export function NameField({ by, setBy }: Pick<Send, 'by' | 'setBy'>) {
  return (
    <label class="field">
      <span>Your name</span>
      <input value={by} required maxLength={80} autocomplete="name" onInput={(event) => setBy(event.currentTarget.value)} />
    </label>
  );
}

/** How it went; an error is read out at once. */
export function SaidLine({ said }: { readonly said: Said | undefined }) {
  if (said === undefined) return null;
  return (
    <p class={said.problem ? 'problem' : 'done'} role={said.problem ? 'alert' : 'status'}>
      {said.words}
    </p>
  );
}

/** Preact's types know each kind of input by itself; here it is chosen while the page runs. */
function inputType(type: TextProps['type'] = 'text'): object {
  return { type };
}

type TextProps = { readonly words: string; readonly value: string; readonly change: (value: string) => void; readonly unit?: string; readonly hint?: string | undefined; readonly type?: 'text' | 'email' | 'url' | 'date' | 'time'; readonly wide?: boolean; readonly most?: number; readonly required?: boolean };

/** One line of text or a number, with its unit and what it is for. */
export function TextField(props: TextProps) {
  const number = props.unit !== undefined && props.unit !== '';
  return (
    <label class={`field${props.wide === true ? ' field-text' : ''}`}>
      <span>
        {props.words}
        {number ? `, ${props.unit}` : ''}
        {props.hint === undefined ? '' : ` (${props.hint})`}
      </span>
      <input {...inputType(props.type)} inputMode={number ? 'decimal' : undefined} maxLength={props.most} required={props.required} value={props.value} autocomplete="off" onInput={(event) => props.change(event.currentTarget.value)} />
    </label>
  );
}

export function ChoiceField(props: { readonly words: string; readonly value: string; readonly choices: readonly (readonly [value: string, words: string])[]; readonly change: (value: string) => void }) {
  return (
    <label class="field">
      <span>{props.words}</span>
      <select value={props.value} onChange={(event) => props.change(event.currentTarget.value)}>
        {props.choices.map(([value, words]) => (
          <option key={value} value={value}>
            {words}
          </option>
        ))}
      </select>
    </label>
  );
}

export function YesField(props: { readonly words: ComponentChildren; readonly value: boolean; readonly change: (value: boolean) => void }) {
  return (
    <label class="yes">
      <input type="checkbox" checked={props.value} onChange={(event) => props.change(event.currentTarget.checked)} /> {props.words}
    </label>
  );
}

/** A list of which any may be chosen; none chosen means all, where `all` says so. */
export function ManyField<T extends string>(props: { readonly legend: string; readonly options: readonly (readonly [value: T, words: string])[]; readonly chosen: readonly T[]; readonly change: (chosen: readonly T[]) => void }) {
  return (
    <fieldset>
      <legend>{props.legend}</legend>
      <div class="checks">
        {props.options.map(([value, words]) => (
          <label key={value}>
            <input type="checkbox" checked={props.chosen.includes(value)} onChange={(event) => props.change(event.currentTarget.checked ? [...props.chosen, value] : props.chosen.filter((one) => one !== value))} /> {words}
          </label>
        ))}
      </div>
    </fieldset>
  );
}

/** Every zone that this browser knows, to be typed with help. */
export function ZoneField(props: { readonly words: string; readonly value: string; readonly change: (value: string) => void }) {
  return (
    <label class="field">
      <span>{props.words}</span>
      <input list="zones" required value={props.value} autocomplete="off" onInput={(event) => props.change(event.currentTarget.value)} />
      <datalist id="zones">
        {Intl.supportedValuesOf('timeZone').map((zone) => (
          <option key={zone} value={zone} />
        ))}
      </datalist>
    </label>
  );
}
