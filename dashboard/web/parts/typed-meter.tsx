import { useState } from 'preact/hooks';
import type { TypedReading } from '../../../shared/settings-api.ts';
import { msOfWallTime, wallTime } from '../../views/site-time.ts';
import { post } from '../api.ts';
import { useSend } from '../use-send.ts';
import { ChoiceField, NameField, SaidLine, TextField, YesField } from './form-fields.tsx';

/** Where no gateway is: what the hour meter or the counter of starts showed, and when. */
export function TypedMeter(props: { readonly site: string; readonly zone: string; readonly generators: readonly string[]; readonly nowMs: number }) {
  const [generator, setGenerator] = useState(props.generators[0] ?? '');
  const [channel, setChannel] = useState<TypedReading['channel']>('run-time');
  const [value, setValue] = useState('');
  // Until somebody says otherwise it was read now, by the server's clock; this machine's may be another.
  const [typedAt, setAt] = useState('');
  const at = typedAt === '' ? wallTime(props.nowMs, props.zone) : typedAt;
  const [reset, setReset] = useState(false);
  const form = useSend();
  if (props.generators.length === 0) return null;
  const save = (): Promise<boolean> =>
    form.send(async (by) => {
      const number = Number(value.trim().replace(',', '.'));
      const ms = msOfWallTime(at, props.zone);
      if (value.trim() === '' || !Number.isFinite(number)) throw new Error('Please type what the meter shows, as a number.');
      if (ms === undefined) throw new Error('Please say when it was read.');
      const reading: TypedReading = { by, site: props.site, generator, channel, at: new Date(ms).toISOString(), value: number, ...(reset && { meterWasReset: true }) };
      await post('/readings/typed', reading);
      setValue('');
      setReset(false);
      return `Kept: ${generator}, ${number} ${channel === 'run-time' ? 'h' : 'starts'}.`;
    });
  return (
    <section aria-labelledby="meter-title" class="no-print">
      <h2 id="meter-title">A meter read by hand</h2>
      <p class="quiet">For generators without a gateway. Running time between two readings is all that can be told from them: that it runs more, not why. Say under Change… how often the meter is read (Reports every), or it is called silent between two readings.</p>
      <form
        class="form"
        aria-labelledby="meter-title"
        onSubmit={(event) => {
          event.preventDefault();
          void save();
        }}
      >
        <ChoiceField words="Generator" value={generator} choices={props.generators.map((id) => [id, id] as const)} change={setGenerator} />
        <ChoiceField words="Meter" value={channel} choices={[['run-time', 'hour meter'], ['starts', 'counter of starts']]} change={(next) => setChannel(next as TypedReading['channel'])} />
        <TextField words="It shows" unit={channel === 'run-time' ? 'h' : 'starts'} value={value} required change={setValue} />
        <label class="field field-time">
          <span>Read ({props.zone})</span>
          <input type="datetime-local" required value={at} onInput={(event) => setAt(event.currentTarget.value)} />
        </label>
        <NameField by={form.by} setBy={form.setBy} />
        <YesField words="The meter was replaced or set back" value={reset} change={setReset} />
        <div class="buttons">
          <button type="submit" disabled={form.busy}>
            Keep the reading
          </button>
        </div>
        <SaidLine said={form.said} />
      </form>
    </section>
  );
}
