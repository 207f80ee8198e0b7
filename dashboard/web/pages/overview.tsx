import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { OverviewRow } from '../../../shared/api.ts';
import { spanWords, timeWords } from '../../views/site-time.ts';
import { getAll } from '../api.ts';
import { useLive, useNowMs, useStatus } from '../live.ts';
import { lookedAtMs, rememberLooked } from '../looked.ts';
import { Filters, filterRows, readFilters } from '../parts/filters.tsx';
import { Plane } from '../parts/plane.tsx';
import { BrushButtons, isInBrush, readBrush } from '../parts/plane-brush.tsx';
import { isFresh, RankedList } from '../parts/ranked-list.tsx';
import { WatchLine } from '../parts/watch-line.tsx';
import { setQuery } from '../router.ts';
import { useResource } from '../use-resource.ts';

const keyOf = (row: OverviewRow): string => `${row.site}/${row.generator}`;

/**
 * The rows in the order that the reader sees: while `held` (a pointer or the focus is on them) rows keep their places and only
 * their content is renewed; new rows come last. `moved` says that the order would be another.
 */
function useSteadyOrder(rows: readonly OverviewRow[], held: boolean): { readonly rows: readonly OverviewRow[]; readonly moved: boolean } {
  const order = useRef<readonly string[]>([]);
  const fresh = rows.map(keyOf);
  if (!held || order.current.length === 0) order.current = fresh;
  const known = new Set(order.current);
  const wanted = new Map(rows.map((row) => [keyOf(row), row]));
  const keys = [...order.current.filter((key) => wanted.has(key)), ...fresh.filter((key) => !known.has(key))];
  return { rows: keys.map((key) => wanted.get(key)!), moved: held && keys.some((key, index) => key !== fresh[index]) };
}

export function OverviewPage(props: { readonly query: URLSearchParams }) {
  const { status } = useStatus();
  const nowMs = useNowMs(10_000);
  const overview = useResource<readonly OverviewRow[]>('overview', (partial) => getAll<OverviewRow>('/overview', {}, partial));
  useLive('', { tick: overview.reload });
  const [held, setHeld] = useState(false);
  const filters = readFilters(props.query);
  const all = overview.value ?? [];
  const [looked, setLooked] = useState(lookedAtMs);
  const fresh = useMemo(() => all.filter((row) => isFresh(row, looked)).length, [all, looked]);
  const filtered = useMemo(() => filterRows(all, filters, (row) => isFresh(row, looked)), [all, props.query.toString(), looked]);
  const brush = readBrush(props.query);
  const { rows, moved } = useSteadyOrder(filtered, held);
  const asPlane = props.query.get('view') === 'plane';

  useEffect(() => {
    document.title = status === undefined ? 'Overview · Lull' : `${status.generatorsReporting} of ${status.generators} reporting · Lull`;
  }, [status?.generatorsReporting, status?.generators]);

  useEffect(() => {
    // The first look of this browser: what stands there now is what was seen.
    if (looked !== undefined || status === undefined) return;
    rememberLooked(Date.parse(status.nowAt));
    setLooked(Date.parse(status.nowAt));
  }, [looked, status]);
  const seen = (): void => {
    rememberLooked(nowMs);
    setLooked(nowMs);
    setQuery({ fresh: '' });
  };
  const marked = asPlane && brush !== undefined ? rows.filter((row) => isInBrush(row, brush)) : rows;
  const silent = status === undefined ? 0 : status.generators - status.generatorsReporting;
  return (
    <>
      <h1>
        {status === undefined ? 'Overview' : `${status.generatorsReporting} of ${status.generators} reporting`}
        {silent > 0 && props.query.get('data') !== 'silent' && (
          <a class="beside" href="/?data=silent">
            show the {silent} that {silent === 1 ? 'is' : 'are'} not
          </a>
        )}
      </h1>
      <p class="quiet only-print">As of {timeWords(nowMs, 'UTC')} UTC; days are those of each site.</p>
      {status !== undefined && <WatchLine status={status} nowMs={nowMs} />}
      {looked !== undefined && overview.value !== undefined && (
        <p class="looked">
          <span class={fresh > 0 ? 'state-new' : 'quiet'}>{fresh === 0 ? 'Nothing new' : `${fresh} new`} since you last looked</span> <span class="quiet">{nowMs - looked < 90_000 ? '(just now)' : `(${spanWords(nowMs - looked)} ago)`}</span>{' '}
          {fresh > 0 && (
            <>
              <button type="button" aria-pressed={filters.fresh !== ''} onClick={() => setQuery({ fresh: filters.fresh === '' ? 'yes' : '' })}>
                Show only these
              </button>{' '}
              <button type="button" onClick={seen}>
                I have seen them
              </button>{' '}
            </>
          )}
          <a class="beside no-print" href="/hand-over">
            Hand-over note
          </a>
        </p>
      )}
      <Filters rows={all} shown={overview.value === undefined ? undefined : rows.length} filters={filters} />
      <div class="views" role="group" aria-label="View">
        <button type="button" aria-pressed={!asPlane} onClick={() => setQuery({ view: '' })}>
          Ranked list
        </button>
        <button type="button" aria-pressed={asPlane} onClick={() => setQuery({ view: 'plane' })}>
          Demand and delivery
        </button>
        <span class="hold" role="status">
          {moved ? 'The order has changed; rows keep their places while you are at them.' : ''}
        </span>
      </div>
      {overview.error !== undefined && (
        <p class="problem" role="alert">
          {overview.error} <button type="button" onClick={overview.reload}>Try again</button>
        </p>
      )}
      {overview.value === undefined && overview.error === undefined && <p class="quiet">Loading the list…</p>}
      {overview.value !== undefined && all.length === 0 && (
        <p>
          No generator has been heard yet and none is registered. <a href="/gateways">How to connect a gateway</a>
        </p>
      )}
      {all.length > 0 && rows.length === 0 && (
        <p>
          None of {all.length} generators fits these filters.{' '}
          <button type="button" onClick={() => setQuery({ text: '', area: '', cause: '', data: '', fresh: '' })}>
            Clear the filters
          </button>
        </p>
      )}
      {rows.length > 0 && asPlane && (
        <>
          <Plane rows={rows} brush={brush} />
          <BrushButtons brush={brush} count={marked.length} />
        </>
      )}
      {rows.length > 0 && (!asPlane || brush !== undefined) && (marked.length === 0 ? <p>Nothing lies in the marked part.</p> : <RankedList rows={marked} nowMs={nowMs} lookedAtMs={looked} onHold={setHeld} onChanged={overview.reload} />)}
    </>
  );
}
