import { useEffect, useMemo } from 'preact/hooks';
import type { GeneratorDetail, Page } from '../../../shared/api.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import type { Finding } from '../../../shared/finding.ts';
import type { Visit } from '../../../shared/visit.ts';
import { channelWords } from '../../views/channel-words.ts';
import { DATA_STATE_WORDS, sureWords, CAUSE_WORDS, weighedWords } from '../../views/domain-words.ts';
import { causeSentence, evidenceSides, movedSentence, onsetSentence } from '../../views/finding-sentences.ts';
import { forecastSentence, leadingForecast, lifeOf, presentSure, runTimeParts, splitSentence, storyMarks, storySpan, type TimeSpan } from '../../views/finding-story.ts';
import { VISIT_STATE_WORDS } from '../../views/plan-words.ts';
import { runTimeSplitSvg } from '../../views/run-time-split-svg.ts';
import { dateWords, msOfWallTime, timeWords, weekdayWords } from '../../views/site-time.ts';
import { get, getAll, query } from '../api.ts';
import { useLive, useNowMs } from '../live.ts';
import { FindingActions } from '../parts/finding-actions.tsx';
import { EvidenceList, State, Wait } from '../parts/finding-part.tsx';
import { Markup } from '../parts/markup.tsx';
import { StoryCharts } from '../parts/story-charts.tsx';
import { generatorHref, setQuery } from '../router.ts';
import { useResource } from '../use-resource.ts';
import { useWidthPx } from '../use-width.ts';

const DAY_MS = 86_400_000;

/** The whole story of one finding: what, since when, how sure, why so, how long it can wait, who did what. */
export function FindingPage(props: { readonly id: string; readonly query: URLSearchParams }) {
  const path = `/findings/${encodeURIComponent(props.id)}`;
  const finding = useResource<Finding>(path, () => get<Finding>(path));
  useEffect(() => {
    document.title = finding.value === undefined ? 'Finding · Lull' : `${CAUSE_WORDS[finding.value.cause]}, ${finding.value.site} · Lull`;
  }, [finding.value]);
  if (finding.value === undefined) {
    return finding.error === undefined ? <p class="quiet">Loading the finding…</p> : (
      <>
        <h1>No such finding</h1>
        <p class="problem" role="alert">
          {finding.error} <button type="button" onClick={finding.reload}>Try again</button>
        </p>
      </>
    );
  }
  return <Story finding={finding.value} query={props.query} onChanged={finding.reload} />;
}

function Story(props: { readonly finding: Finding; readonly query: URLSearchParams; readonly onChanged: () => void }) {
  const { finding } = props;
  const { site, generator } = finding;
  const nowMs = useNowMs(10_000);
  const path = `/generators/${encodeURIComponent(site)}/${encodeURIComponent(generator)}`;
  const detail = useResource<GeneratorDetail>(path, () => get<GeneratorDetail>(path));
  const trips = useResource<readonly Visit[]>(`trips ${site}`, async () => (await get<Page<Visit>>(`/trips${query({ site })}`)).items);
  const onsetMs = Date.parse(finding.onset.earliest ?? finding.onset.likely ?? finding.openedAt);
  const days = useResource<readonly DayRow[]>(`${path} story ${finding.id}`, () => getAll<DayRow>('/days', { site, generator, from: new Date(onsetMs - 60 * DAY_MS).toISOString() }));
  const reload = (): void => {
    detail.reload();
    days.reload();
    trips.reload();
    props.onChanged();
  };
  useLive(`?site=${encodeURIComponent(site)}&generator=${encodeURIComponent(generator)}`, { tick: reload });
  if (detail.value === undefined) return detail.error === undefined ? <p class="quiet">Loading {`${site}/${generator}`}…</p> : <p class="problem" role="alert">{detail.error}</p>;
  return <StoryBody {...props} detail={detail.value} days={days.value ?? []} trips={(trips.value ?? []).filter((one) => one.findings.includes(finding.id))} nowMs={nowMs} onChanged={reload} />;
}

type BodyProps = { readonly finding: Finding; readonly detail: GeneratorDetail; readonly days: readonly DayRow[]; readonly trips: readonly Visit[]; readonly query: URLSearchParams; readonly nowMs: number; readonly onChanged: () => void };

function StoryBody(props: BodyProps) {
  const { finding, detail, trips, nowMs } = props;
  const zone = detail.site.timeZone;
  const { speaksFor, speaksAgainst } = evidenceSides(finding);
  const open = finding.state !== 'closed';
  const forecast = open ? leadingForecast(detail.row) : undefined;
  // Of the span only whole ten minutes of now count, so that charts aren't drawn anew each second.
  const tickMs = Math.floor(nowMs / 600_000) * 600_000;
  const whole = useMemo(() => storySpan(finding, forecast, tickMs), [finding, forecast, tickMs]);
  const span = spanOf(props.query) ?? whole;
  const going = trips.filter((one) => one.state === 'draft' || one.state === 'planned' || one.state === 'under-way');
  const plannedMs = going.flatMap((one) => (one.plannedFor === null ? [] : (msOfWallTime(`${one.plannedFor}T${one.plannedTime ?? '12:00'}`, zone) ?? [])));
  const marks = useMemo(() => storyMarks(finding, detail, plannedMs, zone, tickMs), [finding, detail, plannedMs.join(), tickMs]);
  const setSpan = (wanted: TimeSpan | undefined): void => setQuery(wanted === undefined ? { from: '', to: '' } : { from: new Date(wanted.fromMs).toISOString(), to: new Date(wanted.toMs).toISOString() });
  return (
    <>
      <h1 class="lead-cause">{causeSentence(finding)}</h1>
      <p>
        <a href={generatorHref(detail.site.id, detail.generator.id)}>
          {detail.site.name ?? detail.site.id}, {detail.generator.name ?? detail.generator.id}
        </a>
        <span class="quiet"> · {[detail.site.area, DATA_STATE_WORDS[detail.dataState]].filter((text) => text !== undefined).join(' · ')}</span>
      </p>
      <p class="lead">
        {onsetSentence(finding, zone, nowMs)} {open && detail.row !== null && movedSentence(detail.row)} <State finding={finding} zone={zone} nowMs={nowMs} />
      </p>
      {open && <Wait detail={detail} finding={finding} zone={zone} nowMs={nowMs} />}
      {(open || trips.length > 0) && <Going trips={trips} />}
      <FindingActions finding={finding} zone={zone} nowMs={nowMs} onChanged={props.onChanged} />
      <div class="columns">
        <div class="column-first">
          {open && <Split detail={detail} />}
          <div class="sides">
            <EvidenceList title="What speaks for it" none="Nothing is written down." evidence={speaksFor} />
            <EvidenceList title="What speaks against it" none="Nothing heard so far." evidence={speaksAgainst} />
          </div>
        </div>
        <div class="column-side">
          <Competing finding={finding} />
          <CannotTell finding={finding} detail={detail} />
          {open && detail.row !== null && detail.row.forecasts.length > 0 && (
            <>
              <h2>When a limit is met</h2>
              {detail.row.forecasts.map((one) => (
                <p key={one.limit}>{forecastSentence(one, zone, nowMs)}.</p>
              ))}
            </>
          )}
        </div>
        <div class="column-all">
          <StoryCharts detail={detail} days={props.days} span={span} whole={whole} marks={marks} zone={zone} nowMs={tickMs} onSpan={setSpan} />
          <Life finding={finding} detail={detail} zone={zone} />
        </div>
      </div>
    </>
  );
}

/** A span in the address, so that what one sees can be sent to another. */
function spanOf(query: URLSearchParams): TimeSpan | undefined {
  const [fromMs, toMs] = [Date.parse(query.get('from') ?? ''), Date.parse(query.get('to') ?? '')];
  return fromMs < toMs ? { fromMs, toMs } : undefined;
}

function Going(props: { readonly trips: readonly Visit[] }) {
  const shown = props.trips.filter((one) => one.state !== 'cancelled');
  if (shown.length === 0) return <p class="quiet no-print">No visit is planned. <a href="/plan">Go to the plan</a></p>;
  return (
    <p>
      {shown.map((one) => (
        <span key={one.id} class="fact">
          <a href={`/visits/${encodeURIComponent(one.id)}`}>Visit {VISIT_STATE_WORDS[one.state]}</a>
          {one.plannedFor !== null && `, ${weekdayWords(one.plannedFor)}`}
          {one.technician !== null && `, ${one.technician}`}
        </span>
      ))}
    </p>
  );
}

function Split(props: { readonly detail: GeneratorDetail }) {
  const [holder, widthPx] = useWidthPx<HTMLDivElement>(560);
  const parts = runTimeParts(props.detail.row);
  return (
    <section aria-labelledby="split-title">
      <h2 id="split-title">More drawn, or less delivered?</h2>
      {parts === undefined ? <p>The change in run time can't be split here: run and rest, or a baseline, are not known.</p> : (
        <>
          <p>{splitSentence(parts)}</p>
          <div ref={holder}>
            <Markup svg={runTimeSplitSvg(parts, Math.min(640, widthPx))} />
          </div>
        </>
      )}
    </section>
  );
}

/** Causes that were weighed against each other, most likely first. */
function Competing(props: { readonly finding: Finding }) {
  const { finding } = props;
  return (
    <section aria-labelledby="competing-title">
      <h2 id="competing-title">Causes weighed against each other</h2>
      <table class="values">
        <thead>
          <tr>
            <th scope="col">Cause</th>
            <th scope="col">How likely</th>
          </tr>
        </thead>
        <tbody>
          {finding.causes.filter((one) => one.probability >= 0.005).map((one) => (
            <tr key={one.cause}>
              <th scope="row">{weighedWords(one.cause)}</th>
              <td>{sureWords(one.probability)}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {finding.alongside.length > 0 && (
        <p>
          At the same time: {finding.alongside.map((id) => <a key={id} class="fact" href={`/findings/${encodeURIComponent(id)}`}>another finding</a>)}
        </p>
      )}
    </section>
  );
}

function CannotTell(props: { readonly finding: Finding; readonly detail: GeneratorDetail }) {
  const { finding, detail } = props;
  if (detail.cannotTell.length === 0 && finding.missingChannels.length === 0) return null;
  return (
    <section aria-labelledby="cannot-title">
      <h2 id="cannot-title">What can't be told here</h2>
      <ul>
        {detail.cannotTell.map((sentence) => (
          <li key={sentence}>{sentence}</li>
        ))}
      </ul>
      {finding.missingChannels.length > 0 && <p>What would tell: {finding.missingChannels.map(channelWords).join('; ')}.</p>}
    </section>
  );
}

function Life(props: { readonly finding: Finding; readonly detail: GeneratorDetail; readonly zone: string }) {
  const { finding, detail, zone } = props;
  const sure = presentSure(finding);
  const lines = lifeOf(finding, detail.actions.filter((action) => action.finding === finding.id), zone, detail.visits);
  return (
    <section aria-labelledby="life-title">
      <h2 id="life-title">Who said and did what</h2>
      <ol class="visits">
        {lines.map((line, index) => (
          <li key={index}>
            <span class="life-when">{timeWords(line.atMs, zone)}</span> <strong>{line.by}</strong>: {line.says}
            {line.note !== null && <span class="under">{line.note}</span>}
          </li>
        ))}
        {sure !== undefined && (
          <li>
            <strong>analysis</strong>: {sure}
          </li>
        )}
      </ol>
      <p class="quiet">Nothing here is ever taken out; what was wrong is corrected by a line of its own. Settings of the analysis: {finding.settings}. Opened {dateWords(Date.parse(finding.openedAt), zone)}.</p>
    </section>
  );
}
