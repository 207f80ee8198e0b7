import { msOfWallTime } from '../../views/site-time.ts';

/** Since when a change holds: now, or a moment in the past, in the site's time. */
export function SinceField(props: { readonly value: string; readonly zone: string; readonly change: (value: string) => void }) {
  return (
    <label class="field field-time">
      <span>So since ({props.zone}; empty: from now on)</span>
      <input type="datetime-local" value={props.value} onInput={(event) => props.change(event.currentTarget.value)} />
    </label>
  );
}

/** What was typed there as the API takes it. @throws {Error} with the sentence for the person, if it is no time. */
export function sinceOf(value: string, zone: string): { readonly validFromAt?: string } {
  if (value === '') return {};
  const ms = msOfWallTime(value, zone);
  if (ms === undefined) throw new Error('Since when is no time: choose one, or leave it empty.');
  return { validFromAt: new Date(ms).toISOString() };
}
