import { useState } from 'preact/hooks';
import type { WayHours } from '../../../shared/plan.ts';
import { post } from '../api.ts';
import { TextField } from './form-fields.tsx';

/** How the way to sites is counted in the plan, since no distances are known. */
export function PlanWay(props: { readonly way: WayHours; readonly by: string; readonly onSaved: () => void; readonly onProblem: (words: string) => void }) {
  const [typed, setTyped] = useState<{ readonly area: string; readonly next: string } | undefined>(undefined);
  const { way } = props;
  const number = (text: string): number | null => (text.trim() === '' ? null : Number(text.replace(',', '.')));
  const save = async (area: string, next: string): Promise<void> => {
    if (props.by.trim() === '') return props.onProblem('Please type your name first: every change of the plan carries one.');
    try {
      await post<WayHours>('/plan/way', { areaHours: number(area), nextSiteHours: number(next), by: props.by.trim() });
      setTyped(undefined);
      props.onSaved();
    } catch (error) {
      props.onProblem(error instanceof Error ? error.message : String(error));
    }
  };
  if (typed === undefined) {
    return (
      <p>
        The way is counted as {way.areaHours} h into an area and {way.nextSiteHours} h to each further site there.{' '}
        <button type="button" onClick={() => setTyped({ area: String(way.areaHours), next: String(way.nextSiteHours) })}>
          Change the way…
        </button>
      </p>
    );
  }
  return (
    <form class="form" aria-label="The way to sites" onSubmit={(event) => (event.preventDefault(), void save(typed.area, typed.next))}>
      <TextField words="Into an area" unit="h" value={typed.area} required change={(area) => setTyped({ ...typed, area })} />
      <TextField words="To each further site there" unit="h" value={typed.next} required change={(next) => setTyped({ ...typed, next })} />
      <div class="buttons">
        <button type="submit" class="primary">
          Save
        </button>
        <button type="button" onClick={() => setTyped(undefined)}>
          Leave it
        </button>
      </div>
    </form>
  );
}
