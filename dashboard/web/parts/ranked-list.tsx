import { memo } from 'preact/compat';
import { useState } from 'preact/hooks';
import type { OverviewRow } from '../../../shared/api.ts';
import { amongShort, CAUSE_WORDS, DATA_STATE_WORDS, FINDING_STATE_WORDS, sureWords } from '../../views/domain-words.ts';
import { NBSP, percentWords } from '../../views/number-words.ts';
import { smallRestBandSvg } from '../../views/rest-band-svg.ts';
import { ageWords, dateWords } from '../../views/site-time.ts';
import { waitWords } from '../../views/wait-words.ts';
import { generatorHref } from '../router.ts';
import { Markup } from './markup.tsx';

const ROWS_AT_ONCE = 200;
/** The list spans sites of many zones; days are those of UTC there and of the site on its own page. */
const LIST_ZONE = 'UTC';

function CauseCell(props: { readonly row: OverviewRow; readonly nowMs: number }) {
  const { row, nowMs } = props;
  const lead = row.lead;
  if (lead === null) return <span class="quiet">nothing found</span>;
  return (
    <>
      <span class={lead.shelvedUntil === null ? 'cause' : 'cause cause-shelved'}>{lead.cause === 'undetermined' && lead.among !== null ? amongShort(lead.among) : CAUSE_WORDS[lead.cause]}</span>
      <span class="under">
        {sureWords(lead.probability)}
        {lead.onsetLikelyAt !== null && `; since ${dateWords(Date.parse(lead.onsetLikelyAt), LIST_ZONE, nowMs)}`}
      </span>
    </>
  );
}

function WaitCell(props: { readonly row: OverviewRow; readonly nowMs: number }) {
  const { row, nowMs } = props;
  const wait = waitWords({ ...row, cause: row.lead?.cause ?? null }, LIST_ZONE, nowMs);
  return (
    <>
      <span class={`wait-${wait.due}`}>{wait.until}</span>
      {wait.because !== '' && <span class="under">{wait.because}</span>}
    </>
  );
}

function StateCell(props: { readonly row: OverviewRow; readonly nowMs: number }) {
  const { row, nowMs } = props;
  const silent = row.dataState === 'not-reporting' || row.dataState === 'no-power';
  return (
    <>
      {row.lead !== null && (
        <span class={row.lead.state === 'new' && row.lead.shelvedUntil === null ? 'state-new' : ''}>
          {row.lead.shelvedUntil !== null ? `shelved until ${dateWords(Date.parse(row.lead.shelvedUntil), LIST_ZONE, nowMs)}` : FINDING_STATE_WORDS[row.lead.state]}
        </span>
      )}
      <span class={silent ? 'under silent' : row.lead === null ? 'quiet' : 'under'}>
        {DATA_STATE_WORDS[row.dataState]}, {row.lastHeardAt === null ? 'never heard' : `heard ${ageWords(Date.parse(row.lastHeardAt), nowMs)}`}
      </span>
    </>
  );
}

/** A short name isn't broken over two lines. */
function unbroken(name: string): string {
  return name.length <= 16 ? name.replaceAll(' ', NBSP) : name;
}

const Row = memo(function Row(props: { readonly row: OverviewRow; readonly nowMs: number }) {
  const { row, nowMs } = props;
  const name = unbroken(row.generatorName === '' ? row.generator : row.generatorName);
  return (
    <tr class={row.lead === null ? 'row-quiet' : ''}>
      <td class="rank">{row.rank}</td>
      <th scope="row" class="where">
        <a href={generatorHref(row.site, row.generator)}>
          {row.siteName === '' ? row.site : row.siteName}, {name}
        </a>
        <span class="under">
          {row.area ?? ''}
          {!row.claimed && ' not in the registry yet'}
        </span>
      </th>
      <td class="band-cell" data-name="Last 42 days">
        {row.band.every((day) => day.runS === null) ? <span class="quiet">run and rest are not known</span> : <Markup svg={smallRestBandSvg(row.band, { widthPx: 210, heightPx: 44 })} />}
      </td>
      <td data-name="Duty ratio, 7 days">
        {row.dutyRatio === null ? <span class="quiet">not known</span> : <span class="number">{percentWords(row.dutyRatio)}</span>}
        <span class="under">{row.baselineDutyRatio === null ? 'no baseline yet' : `was ${percentWords(row.baselineDutyRatio)}`}</span>
      </td>
      <td data-name="Cause">
        <CauseCell row={row} nowMs={nowMs} />
      </td>
      <td data-name="Can wait until">
        <WaitCell row={row} nowMs={nowMs} />
      </td>
      <td data-name="State">
        <StateCell row={row} nowMs={nowMs} />
      </td>
    </tr>
  );
});

/** The ranked list; a table where there is room, a card for each row where there is none. Rows of 200, more on demand. */
export function RankedList(props: { readonly rows: readonly OverviewRow[]; readonly nowMs: number; readonly onHold: (held: boolean) => void }) {
  const [limit, setLimit] = useState(ROWS_AT_ONCE);
  const { rows, onHold } = props;
  return (
    <>
      <div class="listing" onPointerEnter={() => onHold(true)} onPointerLeave={() => onHold(false)} onFocusCapture={() => onHold(true)} onBlurCapture={() => onHold(false)}>
        <table class="ranked">
          <caption class="hidden-words">Generators in order of rank. Days are those of UTC.</caption>
          <thead>
            <tr>
              <th scope="col">Rank</th>
              <th scope="col">Site, generator</th>
              <th scope="col">
                Last 42 days
                <span class="key">
                  <span class="key-run" /> run <span class="key-rest" /> rest
                </span>
              </th>
              <th scope="col">Duty ratio, 7 days</th>
              <th scope="col">Cause</th>
              <th scope="col">Can wait until</th>
              <th scope="col">State</th>
            </tr>
          </thead>
          <tbody>
            {rows.slice(0, limit).map((row) => (
              <Row key={`${row.site}/${row.generator}`} row={row} nowMs={props.nowMs} />
            ))}
          </tbody>
        </table>
      </div>
      {rows.length > limit && (
        <p>
          <button type="button" onClick={() => setLimit(limit + ROWS_AT_ONCE)}>
            Show {Math.min(ROWS_AT_ONCE, rows.length - limit)} more of {rows.length - limit}
          </button>
        </p>
      )}
    </>
  );
}
