import { useMemo, useState } from 'preact/hooks';
import type { GeneratorDetail, ReadingsAnswer } from '../../../shared/api.ts';
import { channelChart } from '../../views/channel-chart.ts';
import { get, query } from '../api.ts';
import { useLive } from '../live.ts';
import { useResource } from '../use-resource.ts';
import { Chart } from './chart.tsx';

const DAY_MS = 86_400_000;
const SPANS = [
  { name: '24 h', days: 1 },
  { name: '7 days', days: 7 },
  { name: '90 days', days: 90 },
  { name: 'a year', days: 365 },
] as const;

/** Raw channels over the last day, week, quarter or year, each loaded when it is asked for. */
export function ChannelCharts(props: { readonly detail: GeneratorDetail; readonly zone: string; readonly nowMs: number }) {
  const { detail } = props;
  const [days, setDays] = useState<number>(1);
  const first = detail.latest.find((one) => one.channel === 'tank-pressure') ?? detail.latest[0];
  const [chosen, setChosen] = useState<readonly string[]>(first === undefined ? [] : [first.channel]);
  if (detail.latest.length === 0) return null;
  const toggle = (channel: string): void => setChosen(chosen.includes(channel) ? chosen.filter((one) => one !== channel) : [...chosen, channel]);
  return (
    <section aria-labelledby="channels-title">
      <div class="title-line">
        <h2 id="channels-title">Channels as they came</h2>
        <div class="views" role="group" aria-label="How long">
          {SPANS.map((span) => (
            <button key={span.days} type="button" aria-pressed={days === span.days} onClick={() => setDays(span.days)}>
              {span.name}
            </button>
          ))}
        </div>
      </div>
      <div class="views views-wrap" role="group" aria-label="Channels to draw">
        {detail.latest.map((one) => (
          <button key={one.channel} type="button" aria-pressed={chosen.includes(one.channel)} onClick={() => toggle(one.channel)}>
            {one.label}
          </button>
        ))}
      </div>
      <div class="charts">
        {chosen.map((channel) => (
          <ChannelChart key={channel} detail={detail} channel={channel} days={days} zone={props.zone} nowMs={props.nowMs} />
        ))}
      </div>
    </section>
  );
}

function ChannelChart(props: { readonly detail: GeneratorDetail; readonly channel: string; readonly days: number; readonly zone: string; readonly nowMs: number }) {
  const { detail, channel, days } = props;
  const name = `${detail.site.id}/${detail.generator.id} ${channel} ${days}`;
  const answer = useResource<ReadingsAnswer>(name, () => get<ReadingsAnswer>(`/readings${query({ site: detail.site.id, generator: detail.generator.id, channel, from: new Date(props.nowMs - days * DAY_MS).toISOString(), to: new Date(props.nowMs).toISOString(), buckets: 500 })}`));
  useLive(`?site=${encodeURIComponent(detail.site.id)}&generator=${encodeURIComponent(detail.generator.id)}`, { tick: answer.reload });
  const picture = useMemo(() => answer.value && channelChart(answer.value), [answer.value]);
  if (answer.error !== undefined && picture === undefined) {
    return (
      <p class="problem" role="alert">
        {answer.error}
      </p>
    );
  }
  if (picture === undefined) return <p class="quiet chart-wait">Loading {channel}…</p>;
  if (answer.value?.points.length === 0) return <p class="quiet">{picture.title}: no readings in this time.</p>;
  return <Chart picture={picture} zone={props.zone} />;
}
