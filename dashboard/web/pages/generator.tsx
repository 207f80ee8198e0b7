import { useEffect, useState } from 'preact/hooks';
import type { GeneratorDetail } from '../../../shared/api.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { DATA_STATE_WORDS } from '../../views/domain-words.ts';
import { ageWords, timeWords } from '../../views/site-time.ts';
import { get, getAll } from '../api.ts';
import { useLive, useNowMs } from '../live.ts';
import { ChannelCharts } from '../parts/channel-charts.tsx';
import { DaysCharts } from '../parts/days-charts.tsx';
import { FindingPart } from '../parts/finding-part.tsx';
import { LiveValues } from '../parts/live-values.tsx';
import { RestBandPart } from '../parts/rest-band-part.tsx';
import { Reviewed } from '../parts/reviewed.tsx';
import { SecondLooks } from '../parts/second-looks.tsx';
import { SinceVisit } from '../parts/since-visit.tsx';
import { VisitForm } from '../parts/visit-form.tsx';
import { VisitList } from '../parts/visit-list.tsx';
import { useResource } from '../use-resource.ts';

const DAY_MS = 86_400_000;

/** What is known of one generator: the finding that leads, its rest, its days, its channels, its visits. */
export function GeneratorPage(props: { readonly site: string; readonly generator: string }) {
  const { site, generator } = props;
  const nowMs = useNowMs(5000);
  const [spanDays, setSpanDays] = useState(120);
  const path = `/generators/${encodeURIComponent(site)}/${encodeURIComponent(generator)}`;
  const detail = useResource<GeneratorDetail>(path, () => get<GeneratorDetail>(path));
  const days = useResource<readonly DayRow[]>(`${path} ${spanDays}`, () => getAll<DayRow>('/days', { site, generator, from: new Date(nowMs - spanDays * DAY_MS).toISOString() }));
  const reload = (): void => {
    detail.reload();
    days.reload();
  };
  useLive(`?site=${encodeURIComponent(site)}&generator=${encodeURIComponent(generator)}`, { tick: reload });
  useEffect(() => {
    document.title = detail.value === undefined ? 'Generator · Lull' : `${nameOf(detail.value)} · Lull`;
  }, [detail.value]);

  if (detail.value === undefined) {
    return detail.error === undefined ? (
      <p class="quiet">Loading {`${site}/${generator}`}…</p>
    ) : (
      <>
        <h1>
          {site}, {generator}
        </h1>
        <p class="problem" role="alert">
          {detail.error} <button type="button" onClick={detail.reload}>Try again</button>
        </p>
      </>
    );
  }
  const zone = detail.value.site.timeZone;
  return (
    <>
      <Head detail={detail.value} nowMs={nowMs} />
      {detail.error !== undefined && (
        <p class="problem" role="alert">
          Not renewed: {detail.error}
        </p>
      )}
      <div class="columns">
        <div class="column-first">
          <FindingPart detail={detail.value} zone={zone} nowMs={nowMs} onChanged={reload} />
          <RestBandPart days={days.value} error={days.error} visits={detail.value.visits} zone={zone} spanDays={spanDays} onSpan={setSpanDays} />
        </div>
        <div class="column-side">
          <LiveValues detail={detail.value} zone={zone} nowMs={nowMs} />
          <SinceVisit detail={detail.value} zone={zone} />
          <SecondLooks detail={detail.value} zone={zone} />
          <Reviewed detail={detail.value} />
          <VisitList visits={detail.value.visits} zone={zone} />
          <p class="buttons no-print">
            <a class="button" href={`/visits/new?site=${encodeURIComponent(site)}&generator=${encodeURIComponent(generator)}`}>
              Start a visit
            </a>
            <a class="button" href={`/records?site=${encodeURIComponent(site)}&generator=${encodeURIComponent(generator)}`}>
              Records and history
            </a>
          </p>
          <VisitForm site={site} generator={generator} zone={zone} nowMs={nowMs} onSaved={reload} />
        </div>
        <div class="column-more">
          <DaysCharts days={days.value} detail={detail.value} zone={zone} />
          <ChannelCharts detail={detail.value} zone={zone} nowMs={nowMs} />
        </div>
      </div>
    </>
  );
}

function nameOf(detail: GeneratorDetail): string {
  return `${detail.site.name ?? detail.site.id}, ${detail.generator.name ?? detail.generator.id}`;
}

function Head(props: { readonly detail: GeneratorDetail; readonly nowMs: number }) {
  const { detail, nowMs } = props;
  const zone = detail.site.timeZone;
  const heard = detail.lastHeardAt === null ? undefined : Date.parse(detail.lastHeardAt);
  const quietState = detail.dataState === 'reporting' || detail.dataState === 'learning';
  return (
    <div class="head">
      <h1>{nameOf(detail)}</h1>
      <p class={quietState ? 'quiet' : 'silent'}>
        {DATA_STATE_WORDS[detail.dataState]}, {heard === undefined ? 'never heard' : `last heard ${ageWords(heard, nowMs)} (${timeWords(heard, zone)})`}
      </p>
      <p class="quiet">{[detail.site.area, detail.site.address, detail.site.access === undefined ? undefined : `access: ${detail.site.access}`, detail.claimed ? undefined : 'heard, but not in the registry yet', `times are those of ${zone}`].filter((text) => text !== undefined).join(' · ')}</p>
      <p class="quiet no-print">
        <a href={`/settings/${encodeURIComponent(detail.site.id)}?generator=${encodeURIComponent(detail.generator.id)}`}>{detail.claimed ? 'Its settings' : 'Register it'}</a>
      </p>
    </div>
  );
}
