import { memo } from 'preact/compat';
import { useLayoutEffect, useRef, useState } from 'preact/hooks';
import type { OverviewRow } from '../../../shared/api.ts';
import { amongShort, CAUSE_WORDS, DATA_STATE_WORDS, FINDING_STATE_WORDS, sureWords } from '../../views/domain-words.ts';
import { NBSP, percentWords } from '../../views/number-words.ts';
import { smallRestBandSvg } from '../../views/rest-band-svg.ts';
import { ageWords, dateWords } from '../../views/site-time.ts';
import { waitWords } from '../../views/wait-words.ts';
import { generatorHref, go } from '../router.ts';
import { BLOCK_ROWS, useListWindow } from '../use-window.ts';
import { ActionForm, type Verb } from './finding-actions.tsx';
import { Markup } from './markup.tsx';

function CauseCell(props: { readonly row: OverviewRow; readonly nowMs: number }) {
  const { row, nowMs } = props;
  const lead = row.lead;
  if (lead === null) return <span class="quiet">nothing found</span>;
  return (
    <>
      <a class={lead.shelvedUntil === null ? 'cause' : 'cause cause-shelved'} href={`/findings/${encodeURIComponent(lead.finding)}`}>
        {lead.cause === 'undetermined' && lead.among !== null ? amongShort(lead.among) : CAUSE_WORDS[lead.cause]}
      </a>
      <span class="under">
        {sureWords(lead.probability)}
        {lead.onsetLikelyAt !== null && `; since ${dateWords(Date.parse(lead.onsetLikelyAt), row.timeZone, nowMs)}`}; found {ageWords(Date.parse(lead.openedAt), nowMs)}
      </span>
    </>
  );
}

function WaitCell(props: { readonly row: OverviewRow; readonly nowMs: number }) {
  const { row, nowMs } = props;
  const wait = waitWords({ ...row, cause: row.lead?.cause ?? null, state: row.lead?.state ?? null, servedAt: row.lead?.servedAt ?? null }, row.timeZone, nowMs);
  return (
    <>
      <span class={`wait-${wait.due}`}>{wait.until}</span>
      {wait.because !== '' && <span class="under">{wait.because}</span>}
    </>
  );
}

function StateCell(props: { readonly row: OverviewRow; readonly nowMs: number; readonly fresh: boolean }) {
  const { row, nowMs } = props;
  const silent = row.dataState === 'not-reporting' || row.dataState === 'no-power';
  return (
    <>
      {row.lead !== null && (
        <span class={row.lead.state === 'new' && row.lead.shelvedUntil === null ? 'state-new' : ''}>
          {row.lead.shelvedUntil !== null ? `shelved until ${dateWords(Date.parse(row.lead.shelvedUntil), row.timeZone, nowMs)}` : FINDING_STATE_WORDS[row.lead.state]}
          {row.lead.heldBy !== undefined && row.lead.heldBy !== null && row.lead.state !== 'new' && `, ${row.lead.heldBy}`}
        </span>
      )}
      {props.fresh && <span class="under fresh">new since you looked</span>}
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

const Row = memo(function Row(props: { readonly row: OverviewRow; readonly nowMs: number; readonly index: number; readonly fresh: boolean }) {
  const { row, nowMs } = props;
  const name = unbroken(row.generatorName === '' ? row.generator : row.generatorName);
  return (
    <tr class={row.lead === null ? 'row-quiet' : ''} data-index={props.index} aria-rowindex={props.index + 2}>
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
        <StateCell row={row} nowMs={nowMs} fresh={props.fresh} />
      </td>
    </tr>
  );
});

/** Found after the reader last said that they had seen all. */
export function isFresh(row: OverviewRow, lookedAtMs: number | undefined): boolean {
  return lookedAtMs !== undefined && row.lead !== null && row.lead.state !== 'closed' && Date.parse(row.lead.openedAt) > lookedAtMs;
}

type ListProps = { readonly rows: readonly OverviewRow[]; readonly nowMs: number; readonly lookedAtMs?: number | undefined; readonly onHold: (held: boolean) => void; readonly onChanged: () => void };

const KEY_VERBS: Readonly<Record<string, Verb>> = { a: 'acknowledge', s: 'shelve', n: 'note' };

/** What a key would do to a row; `undefined` where it makes no sense there. */
function verbFor(key: string, row: OverviewRow): Verb | undefined {
  const verb = KEY_VERBS[key.toLowerCase()];
  if (verb === undefined || row.lead === null) return undefined;
  if (verb === 'acknowledge' && row.lead.state !== 'new') return undefined;
  return verb === 'shelve' && row.lead.shelvedUntil !== null ? 'unshelve' : verb;
}

/**
 * The ranked list; a table where there is room, a card for each row where there is none. Only blocks near what is seen are
 * drawn. While the focus is in it, single keys act on the row that has it; anywhere else they are the browser's.
 */
export function RankedList(props: ListProps) {
  const { rows, onHold } = props;
  const newest = useRef(rows);
  newest.current = rows;
  const holder = useRef<HTMLDivElement>(null);
  const list = useListWindow(holder, rows.length);
  const [acting, setActing] = useState<{ readonly key: string; readonly verb: Verb } | undefined>(undefined);
  const [pointed, setPointed] = useState(false);
  const [focused, setFocused] = useState(false);
  // With a form open the order stands, wherever pointer and focus are: a row that moves takes the focus, and what was typed, with it.
  const held = pointed || focused || (acting !== undefined && rows.some((row) => keyOf(row) === acting.key));
  useLayoutEffect(() => {
    onHold(held);
    return () => onHold(false);
  }, [held]);
  const wanted = useRef<number | undefined>(undefined);
  const linkOf = (index: number): HTMLElement | null => holder.current?.querySelector<HTMLElement>(`tr[data-index="${index}"] .where a`) ?? null;
  const focusRow = (index: number): void => {
    const link = linkOf(index);
    if (link !== null) {
      link.focus({ preventScroll: true });
      link.closest('tr')?.scrollIntoView({ block: 'nearest' });
      return;
    }
    wanted.current = index;
    list.show(index);
  };
  useLayoutEffect(() => {
    // A row that was not drawn gets the focus once it is.
    if (wanted.current === undefined || linkOf(wanted.current) === null) return;
    const index = wanted.current;
    wanted.current = undefined;
    focusRow(index);
  });
  /** By its name, since an answer may come after the rows have changed places. */
  const leaveForm = (key: string): void => {
    setActing(undefined);
    const index = newest.current.findIndex((row) => keyOf(row) === key);
    if (index >= 0) focusRow(index);
  };
  const onKey = (event: KeyboardEvent): void => {
    const target = event.target as HTMLElement;
    if (event.key === 'Escape' && acting !== undefined) {
      leaveForm(acting.key);
      return;
    }
    const index = Number(target.closest<HTMLElement>('tr[data-index]')?.dataset['index'] ?? Number.NaN);
    const row = rows[index];
    if (row === undefined || event.ctrlKey || event.metaKey || event.altKey || target.closest('form') !== null) return;
    const step = { ArrowDown: 1, j: 1, ArrowUp: -1, k: -1 }[event.key];
    const verb = verbFor(event.key, row);
    if (step !== undefined) focusRow(Math.min(rows.length - 1, Math.max(0, index + step)));
    else if (event.key === 'Home') focusRow(0);
    else if (event.key === 'End') focusRow(rows.length - 1);
    else if (event.key.toLowerCase() === 'o' && row.lead !== null) go(`/findings/${encodeURIComponent(row.lead.finding)}`);
    else if (verb !== undefined) setActing({ key: keyOf(row), verb });
    else return;
    event.preventDefault();
  };
  const blocks = Array.from({ length: Math.ceil(rows.length / BLOCK_ROWS) }, (_, block) => block);
  // What is being typed stays where it is, however far the reader scrolls.
  const formAt = acting === undefined ? -1 : rows.findIndex((row) => keyOf(row) === acting.key);
  const formBlock = formAt < 0 ? undefined : Math.floor(formAt / BLOCK_ROWS);
  const drawn = blocks.filter((block) => (block >= list.first && block <= list.last) || block === formBlock);
  const spaceBefore = (from: number, to: number): number => blocks.slice(from, to).reduce((sum, block) => sum + list.heightOf(block), 0);
  return (
    <>
      <p class="quiet keys">
        Keys, while the focus is in the list: <kbd>↓</kbd> <kbd>↑</kbd> next and before, <kbd>Enter</kbd> open the generator, <kbd>O</kbd> open the finding, <kbd>A</kbd> acknowledge, <kbd>S</kbd> shelve, <kbd>N</kbd> note, <kbd>Esc</kbd> leave a form.
      </p>
      <div ref={holder} class="listing" onKeyDown={onKey} onPointerEnter={() => setPointed(true)} onPointerLeave={() => setPointed(false)} onFocusCapture={() => setFocused(true)} onBlurCapture={(event) => setFocused(holder.current?.contains(event.relatedTarget as Node | null) ?? false)}>
        <table class="ranked" aria-rowcount={rows.length + 1}>
          <caption class="hidden-words">Generators in order of rank. Days are those of each site.</caption>
          <thead>
            <tr aria-rowindex={1}>
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
              <th scope="col">
                Can wait until <span class="under">days of the site</span>
              </th>
              <th scope="col">State, who has it</th>
            </tr>
          </thead>
          {drawn.flatMap((block, at) => {
            const members = rows.slice(block * BLOCK_ROWS, (block + 1) * BLOCK_ROWS);
            const spacePx = spaceBefore(at === 0 ? 0 : drawn[at - 1]! + 1, block);
            return [
              spacePx > 0 && <Space key={`before ${block}`} heightPx={spacePx} />,
              <tbody key={block} data-block={block} data-drawn="yes" data-rows={members.length}>
                {members.map((row, member) => (
                  <RowWithForm key={keyOf(row)} {...props} row={row} index={block * BLOCK_ROWS + member} verb={acting?.key === keyOf(row) ? acting.verb : undefined} onDone={() => leaveForm(keyOf(row))} />
                ))}
              </tbody>,
            ];
          })}
          {spaceBefore((drawn.at(-1) ?? -1) + 1, blocks.length) > 0 && <Space heightPx={spaceBefore((drawn.at(-1) ?? -1) + 1, blocks.length)} />}
        </table>
      </div>
    </>
  );
}

const keyOf = (row: OverviewRow): string => `${row.site}/${row.generator}`;

/** Blocks that aren't drawn. */
function Space(props: { readonly heightPx: number }) {
  return (
    <tbody class="space" aria-hidden="true">
      <tr>
        <td colSpan={7} style={{ height: `${Math.round(props.heightPx)}px` }} />
      </tr>
    </tbody>
  );
}

function RowWithForm(props: ListProps & { readonly row: OverviewRow; readonly index: number; readonly verb: Verb | undefined; readonly onDone: () => void }) {
  const { row, verb } = props;
  const form = useRef<HTMLTableCellElement>(null);
  useLayoutEffect(() => {
    // At once, and not after the next paint: a form that is left before would take the focus when it is gone.
    if (verb !== undefined) form.current?.querySelector<HTMLElement>(verb === 'note' || verb === 'shelve' ? 'textarea, input' : 'input')?.focus();
  }, [verb]);
  return (
    <>
      <Row row={row} nowMs={props.nowMs} index={props.index} fresh={isFresh(row, props.lookedAtMs)} />
      {verb !== undefined && row.lead !== null && (
        <tr class="row-form">
          <td colSpan={7} ref={form}>
            <ActionForm finding={{ id: row.lead.finding, closedReason: null }} verb={verb} zone={row.timeZone} nowMs={props.nowMs} onChanged={props.onChanged} onDone={props.onDone} />
          </td>
        </tr>
      )}
    </>
  );
}
