import { useEffect } from 'preact/hooks';
import type { ServiceListRow } from '../../../shared/api.ts';
import { isBeingChecked, workWords } from '../../views/being-checked.ts';
import { mustGoAtOnce } from '../../views/cause-words.ts';
import { CAUSE_WORDS, LIMIT_WORDS, sureWords } from '../../views/domain-words.ts';
import { group, NBSP } from '../../views/number-words.ts';
import { dateWords, timeWords } from '../../views/site-time.ts';
import { getAll } from '../api.ts';
import { useLive, useNowMs } from '../live.ts';
import { generatorHref } from '../router.ts';
import { useResource } from '../use-resource.ts';

const DAY_MS = 86_400_000;

/** By when, where, why, who must go and what to bring: to be read on paper as well. */
export function ServiceListPage() {
  const nowMs = useNowMs(30_000);
  const list = useResource<readonly ServiceListRow[]>('service-list', () => getAll<ServiceListRow>('/service-list'));
  useLive('', { tick: list.reload });
  useEffect(() => {
    document.title = 'Service list · Lull';
  }, []);
  const rows = list.value ?? [];
  return (
    <>
      <div class="title-line">
        <h1>Service list</h1>
        <p class="buttons no-print">
          <button type="button" onClick={() => window.print()}>
            Print
          </button>
          <a class="button" href="/api/v1/service-list.csv" download>
            Download as CSV
          </a>
        </p>
      </div>
      <p class="quiet">What should not wait stands first, then by date. As of {timeWords(nowMs, 'UTC')} UTC; days are those of each site. From condition: when a limit is likely to be crossed. Due: by days or running hours.</p>
      {list.error !== undefined && (
        <p class="problem" role="alert">
          {list.error} <button type="button" onClick={list.reload}>Try again</button>
        </p>
      )}
      {list.value === undefined && list.error === undefined && <p class="quiet">Loading the list…</p>}
      {list.value !== undefined && rows.length === 0 && <p>Nothing is due and nothing was found. This is no proof that all is in order.</p>}
      {rows.length > 0 && (
        <table class="ranked service">
          <caption class="hidden-words">Generators that want service, in order of date</caption>
          <thead>
            <tr>
              <th scope="col">By when</th>
              <th scope="col">Site, generator</th>
              <th scope="col">Cause</th>
              <th scope="col">Who must go</th>
              <th scope="col">What to bring</th>
              <th scope="col">Why now</th>
            </tr>
          </thead>
          {groupsOf(rows, nowMs).map(({ name, members }) => (
            <tbody key={name}>
              <tr class="group">
                <th colSpan={6} scope="rowgroup">
                  {name} ({members.length})
                </th>
              </tr>
              {members.map((row) => (
                <ServiceRow key={`${row.site}/${row.generator}`} row={row} nowMs={nowMs} />
              ))}
            </tbody>
          ))}
        </table>
      )}
    </>
  );
}

/** What waits for nothing stands before what is only past its date: a shut valve is not outranked by an overdue service. */
function groupsOf(rows: readonly ServiceListRow[], nowMs: number): readonly { readonly name: string; readonly members: readonly ServiceListRow[] }[] {
  const past = (row: ServiceListRow): boolean => !goesAtOnce(row) && row.byAt !== null && Date.parse(row.byAt) <= nowMs;
  return [
    { name: 'Should not wait', members: rows.filter(goesAtOnce) },
    { name: 'At or past its date', members: rows.filter(past) },
    { name: 'Can wait until its date', members: rows.filter((row) => !goesAtOnce(row) && !past(row) && !isBeingChecked(row)) },
    { name: 'The work is done and being checked', members: rows.filter((row) => !past(row) && isBeingChecked(row)) },
  ].filter((group) => group.members.length > 0);
}

/** Whatever the cause: once the work is done, nobody need go at once. */
function goesAtOnce(row: ServiceListRow): boolean {
  return mustGoAtOnce(row.cause) && !isBeingChecked(row);
}

/** A date of today that comes from analysis' last look means: now. */
function byWords(row: ServiceListRow, byMs: number | undefined, nowMs: number): string {
  if (goesAtOnce(row)) return 'at once';
  if (byMs === undefined) return isBeingChecked(row) ? 'being checked' : 'no end in sight';
  if (byMs > nowMs) return dateWords(byMs, row.timeZone, nowMs);
  return nowMs - byMs < DAY_MS ? 'now' : `past: ${dateWords(byMs, row.timeZone, nowMs)}`;
}

function becauseWords(row: ServiceListRow): string {
  if (goesAtOnce(row)) return 'this cause should not wait';
  if (row.byBecause === 'condition') return row.limit === null ? 'from condition' : `from condition: limit of ${LIMIT_WORDS[row.limit]}`;
  return row.byBecause === 'due' ? 'due by days or hours' : 'no date';
}

function ServiceRow(props: { readonly row: ServiceListRow; readonly nowMs: number }) {
  const { row, nowMs } = props;
  const byMs = row.byAt === null ? undefined : Date.parse(row.byAt);
  const soon = goesAtOnce(row) || (byMs !== undefined && byMs - nowMs < 7 * DAY_MS);
  return (
    <tr>
      <td data-name="By when">
        <span class={soon ? 'wait-soon' : 'number'}>{byWords(row, byMs, nowMs)}</span>
        <span class="under">
          {becauseWords(row)}
          {row.runHours !== null && `; hour meter ${group(row.runHours)}${NBSP}h`}
        </span>
      </td>
      <th scope="row" class="where">
        <a href={generatorHref(row.site, row.generator)}>
          {row.siteName}, <span class="unbroken">{row.generatorName}</span>
        </a>
        <span class="under">{[row.area, row.access].filter((text) => text !== null && text !== '').join('; ')}</span>
      </th>
      <td data-name="Cause">
        <span class="cause">{row.causeSays === '' ? (row.cause === null ? 'service due' : CAUSE_WORDS[row.cause]) : row.causeSays}</span>
        {row.probability !== null && <span class="under">{sureWords(row.probability)}</span>}
        {workWords(row, row.timeZone, nowMs) !== null && <span class="under">{workWords(row, row.timeZone, nowMs)}</span>}
      </td>
      <td data-name="Who must go">{row.whoMustGo}</td>
      <td data-name="What to bring">
        {row.bring.length === 0 ? (
          <span class="quiet">nothing in particular</span>
        ) : (
          row.bring.join(', ')
        )}
      </td>
      <td data-name="Why now">{row.because}</td>
    </tr>
  );
}
