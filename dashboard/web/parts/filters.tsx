import { useState } from 'preact/hooks';
import type { OverviewRow } from '../../../shared/api.ts';
import type { Cause, DataState } from '../../../shared/finding.ts';
import { CAUSE_WORDS, DATA_STATE_WORDS } from '../../views/domain-words.ts';
import { setQuery } from '../router.ts';

export type FilterValues = { readonly text: string; readonly area: string; readonly cause: string; readonly data: string; /** `yes`: only what was found since the reader last looked. */ readonly fresh: string };

/** Filters live in the address, so that a view can be kept, sent and come back to. */
export function readFilters(query: URLSearchParams): FilterValues {
  return { text: query.get('text') ?? '', area: query.get('area') ?? '', cause: query.get('cause') ?? '', data: query.get('data') ?? '', fresh: query.get('fresh') ?? '' };
}

/** Every word of `text` must stand somewhere in the names. `cause` may be `any`, `data` may be `silent`: heard from less than it should be. */
export function filterRows(rows: readonly OverviewRow[], filters: FilterValues, isNew: (row: OverviewRow) => boolean = () => true): readonly OverviewRow[] {
  const words = filters.text.toLowerCase().split(/\s+/).filter((word) => word !== '');
  return rows.filter((row) => {
    const names = `${row.siteName} ${row.generatorName} ${row.site} ${row.generator} ${row.area ?? ''}`.toLowerCase();
    if (!words.every((word) => names.includes(word))) return false;
    if (filters.fresh !== '' && !isNew(row)) return false;
    if (filters.area !== '' && row.area !== filters.area) return false;
    const cause = row.lead?.cause ?? row.cause;
    if (filters.cause === 'any' ? cause === null : filters.cause !== '' && cause !== filters.cause) return false;
    if (filters.data === 'silent') return row.dataState === 'not-reporting' || row.dataState === 'no-power' || row.dataState === 'partly-reporting';
    return filters.data === '' || row.dataState === filters.data;
  });
}

function Choice(props: { readonly name: string; readonly label: string; readonly value: string; readonly options: readonly (readonly [value: string, words: string])[] }) {
  return (
    <label class="field">
      <span>{props.label}</span>
      <select value={props.value} onChange={(event) => setQuery({ [props.name]: event.currentTarget.value })}>
        {props.options.map(([value, words]) => (
          <option key={value} value={value} selected={value === props.value}>
            {words}
          </option>
        ))}
      </select>
    </label>
  );
}

export function Filters(props: { readonly rows: readonly OverviewRow[]; /** Undefined until the list is there. */ readonly shown: number | undefined; readonly filters: FilterValues }) {
  const { rows, filters } = props;
  const areas = [...new Set(rows.flatMap((row) => row.area ?? []))].sort();
  const present = new Set(rows.flatMap((row) => row.lead?.cause ?? row.cause ?? []));
  const causes = (Object.keys(CAUSE_WORDS) as Cause[]).filter((cause) => present.has(cause) || cause === filters.cause);
  const states = (Object.keys(DATA_STATE_WORDS) as DataState[]).filter((state) => state === filters.data || rows.some((row) => row.dataState === state));
  const [more, setMore] = useState(false);
  const active = Object.values(filters).some((value) => value !== '');
  return (
    <form class="filters" role="search" aria-label="Filters" onSubmit={(event) => event.preventDefault()}>
      <label class="field field-text">
        <span>Site or generator</span>
        <input type="search" value={filters.text} autocomplete="off" onInput={(event) => setQuery({ text: event.currentTarget.value })} />
      </label>
      <button type="button" class="more-filters" aria-expanded={more} onClick={() => setMore(!more)}>
        {more ? 'Fewer filters' : 'More filters'}
      </button>
      <div class={more || filters.area + filters.cause + filters.data !== '' ? 'choices' : 'choices choices-folded'}>
        {areas.length > 0 && <Choice name="area" label="Area" value={filters.area} options={[['', 'all areas'], ...areas.map((area) => [area, area] as const)]} />}
        <Choice name="cause" label="Cause" value={filters.cause} options={[['', 'all'], ['any', 'something found'], ...causes.map((cause: Cause) => [cause, CAUSE_WORDS[cause]] as const)]} />
        <Choice name="data" label="Data" value={filters.data} options={[['', 'all'], ['silent', 'silent or in part'], ...states.map((state) => [state, DATA_STATE_WORDS[state]] as const)]} />
      </div>
      <p class="count" role="status">
        {props.shown === undefined ? '' : active ? `${props.shown} of ${rows.length} shown` : `${rows.length} generators`}
      </p>
      {active && (
        <button type="button" onClick={() => setQuery({ text: '', area: '', cause: '', data: '', fresh: '' })}>
          Clear
        </button>
      )}
    </form>
  );
}
