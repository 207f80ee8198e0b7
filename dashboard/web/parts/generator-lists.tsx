import type { GeneratorRecord } from '../../../shared/registry.ts';
import { inKeptUnit, inShownUnit, shownUnit } from '../../views/shown-units.ts';
import { ChoiceField, TextField, YesField } from './form-fields.tsx';

type Riser = GeneratorRecord['risers'][number];
type Valve = GeneratorRecord['valves'][number];

const PURGES = [['none', 'none'], ['fixed', 'fixed vent'], ['timed', 'timed vent']] as const;
const BYPASSES = [['none', 'none'], ['manual', 'by hand'], ['automatic', 'automatic']] as const;

function replaced<T>(items: readonly T[], index: number, item: T): T[] {
  return items.map((one, at) => (at === index ? item : one));
}

/** A number as typed; empty takes it away, and what is none stays as it was. */
function numberOf(text: string, unit: string): number | undefined {
  const value = Number(text.trim().replace(',', '.'));
  return text.trim() === '' || !Number.isFinite(value) || value <= 0 ? undefined : Number(inKeptUnit(value, unit).toPrecision(6));
}

function textOf(value: number | undefined, unit: string): string {
  return value === undefined ? '' : String(Number(inShownUnit(value, unit).toPrecision(6)));
}

/** A number that is taken over when the field is left, so that typing "1." isn't fought over. */
function NumberInput(props: { readonly words: string; readonly unit: string; readonly value: number | undefined; readonly change: (value: number | undefined) => void }) {
  return (
    <label class="field">
      <span>
        {props.words}, {shownUnit(props.unit)}
      </span>
      <input inputMode="decimal" size={8} value={textOf(props.value, props.unit)} onChange={(event) => event.currentTarget.value !== textOf(props.value, props.unit) && props.change(numberOf(event.currentTarget.value, props.unit))} />
    </label>
  );
}

function without<K extends keyof Riser>(riser: Riser, name: K, value: Riser[K] | undefined): Riser {
  const { [name]: _taken, ...rest } = riser;
  return (value === undefined ? rest : { ...riser, [name]: value }) as Riser;
}

export function RiserRows(props: { readonly risers: readonly Riser[]; readonly change: (risers: Riser[]) => void }) {
  const { risers, change } = props;
  return (
    <>
      {risers.map((riser, index) => (
        <div class="list-row" key={index} role="group" aria-label={`Riser ${index + 1}`}>
          <TextField words="Id" value={riser.id} most={64} required change={(id) => change(replaced(risers, index, { ...riser, id }))} />
          <NumberInput words="Kept at" unit="kPa" value={riser.setKPa} change={(value) => change(replaced(risers, index, without(riser, 'setKPa', value)))} />
          <NumberInput words="Low-pressure signal" unit="kPa" value={riser.lowPressureKPa} change={(value) => change(replaced(risers, index, without(riser, 'lowPressureKPa', value)))} />
          <NumberInput words="Piping" unit="L" value={riser.pipeLitres} change={(value) => change(replaced(risers, index, without(riser, 'pipeLitres', value)))} />
          <ChoiceField words="Purge vent" value={riser.purge} choices={PURGES} change={(purge) => change(replaced(risers, index, { ...riser, purge: purge as Riser['purge'] }))} />
          <ChoiceField words="Bypass" value={riser.bypass} choices={BYPASSES} change={(bypass) => change(replaced(risers, index, { ...riser, bypass: bypass as Riser['bypass'] }))} />
          <button type="button" onClick={() => change(risers.filter((_one, at) => at !== index))}>
            Take out<span class="unseen"> riser {index + 1}</span>
          </button>
        </div>
      ))}
      <button type="button" onClick={() => change([...risers, { id: `riser-${risers.length + 1}`, purge: 'none', bypass: 'none' }])}>
        Add a riser
      </button>
    </>
  );
}

type Channels = GeneratorRecord['channels'];

/** What the packets of a gateway leave open about a channel: absolute or gauge, per cent or ratio. */
export function ChannelRows(props: { readonly channels: Channels; readonly change: (channels: Channels) => void }) {
  const rows = Object.entries(props.channels);
  const write = (index: number, row: (typeof rows)[number]): void => props.change(Object.fromEntries(replaced(rows, index, row)));
  return (
    <>
      {rows.map(([name, settings], index) => (
        <div class="list-row" key={index} role="group" aria-label={`Channel ${index + 1}`}>
          <TextField words="Channel" hint="such as tank-pressure" value={name} most={64} required change={(next) => write(index, [next, settings])} />
          <YesField words="sent as absolute pressure" value={settings.absolute === true} change={(absolute) => write(index, [name, { ...settings, absolute }])} />
          <ChoiceField
            words="Its % means"
            value={settings.percentAs ?? ''}
            choices={[['', 'found out from the values'], ['ratio', '0 to 1'], ['per-cent', '0 to 100']]}
            change={(percentAs) => {
              const { percentAs: _before, ...rest } = settings;
              write(index, [name, percentAs === '' ? rest : { ...rest, percentAs: percentAs as 'ratio' | 'per-cent' }]);
            }}
          />
          <button type="button" onClick={() => props.change(Object.fromEntries(rows.filter((_one, at) => at !== index)))}>
            Take out<span class="unseen"> channel {index + 1}</span>
          </button>
        </div>
      ))}
      <button type="button" onClick={() => props.change({ ...props.channels, '': {} })}>
        Add a channel
      </button>
    </>
  );
}

export function ValveRows(props: { readonly valves: readonly Valve[]; readonly change: (valves: Valve[]) => void }) {
  const { valves, change } = props;
  return (
    <>
      {valves.map((valve, index) => (
        <div class="list-row" key={index} role="group" aria-label={`Valve ${index + 1}`}>
          <TextField words="Name on its plate" value={valve.name} most={120} required wide change={(name) => change(replaced(valves, index, { ...valve, name }))} />
          <ChoiceField words="Normally" value={valve.normal} choices={[['open', 'open'], ['shut', 'shut']]} change={(normal) => change(replaced(valves, index, { ...valve, normal: normal as Valve['normal'] }))} />
          <button type="button" onClick={() => change(valves.filter((_one, at) => at !== index))}>
            Take out<span class="unseen"> valve {index + 1}</span>
          </button>
        </div>
      ))}
      <button type="button" onClick={() => change([...valves, { name: '', normal: 'open' }])}>
        Add a valve
      </button>
    </>
  );
}
