import type { Part } from '../../../shared/registry.ts';
import { PART_WORDS } from '../../views/domain-words.ts';
import type { WorkDraft } from './draft.ts';

/** In the order in which the air meets them, then the rest; the order is the order of the work. */
const ORDER: readonly Part[] = ['intake-element', 'particulate-element', 'coalescing-element', 'carbon-element', 'o-rings', 'drain', 'check-valve', 'regulator', 'pressure-switch', 'oxygen-sensor', 'membrane', 'compressor'];

/** Parts that were replaced; each begins its own baseline anew, so only what was truly changed is ticked. */
export function WorkPart(props: { readonly work: WorkDraft; readonly change: (make: (work: WorkDraft) => WorkDraft, soon?: boolean) => void }) {
  const { work, change } = props;
  return (
    <fieldset>
      <legend>Replaced. Only what you changed: its normal is learned anew.</legend>
      <div class="checks visit-checks">
        {ORDER.map((part) => (
          <label key={part}>
            <input type="checkbox" checked={work.replaced.includes(part)} onChange={(event) => {
              const { checked } = event.currentTarget;
              change((old) => ({ ...old, replaced: checked ? [...old.replaced.filter((one) => one !== part), part] : old.replaced.filter((one) => one !== part) }));
            }} />{' '}
            {PART_WORDS[part]}
          </label>
        ))}
      </div>
    </fieldset>
  );
}
