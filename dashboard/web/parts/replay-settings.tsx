import type { ReplaySettings } from '../../../shared/world-replay.ts';
import { REPLAY_SETTING_WORDS } from '../../views/replay-words.ts';
import { TextField } from './form-fields.tsx';

/** What is typed; numbers stay text until they are sent. */
export type TypedSettings = Readonly<Record<keyof ReplaySettings, string>>;
const NAMES = Object.keys(REPLAY_SETTING_WORDS) as (keyof ReplaySettings)[];

export function typedSettings(settings: ReplaySettings): TypedSettings {
  return Object.fromEntries(NAMES.map((name) => [name, String(settings[name])])) as TypedSettings;
}

/** What is sent; the server says what is no number. */
export function sentSettings(typed: TypedSettings): ReplaySettings {
  return Object.fromEntries(NAMES.map((name) => [name, typed[name].trim() === '' ? null : Number(typed[name].replace(',', '.'))])) as unknown as ReplaySettings;
}

/** The settings of one side, with those of the program as their beginning. */
export function SettingsFields(props: { readonly legend: string; readonly typed: TypedSettings; readonly program: ReplaySettings; readonly change: (typed: TypedSettings) => void }) {
  return (
    <fieldset class="replay-settings">
      <legend>{props.legend}</legend>
      <div class="in-line">
        {NAMES.map((name) => (
          <TextField key={name} words={REPLAY_SETTING_WORDS[name]} hint={props.typed[name] === String(props.program[name]) ? undefined : `program: ${props.program[name]}`} value={props.typed[name]} required change={(value) => props.change({ ...props.typed, [name]: value })} />
        ))}
      </div>
    </fieldset>
  );
}
