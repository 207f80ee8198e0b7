import { useMemo } from 'preact/hooks';
import type { GeneratorDetail, Page, ReadingsAnswer } from '../../../shared/api.ts';
import type { Cycle, DayRow } from '../../../shared/cycle.ts';
import { channelChart } from '../../views/channel-chart.ts';
import { daysCharts } from '../../views/days-chart.ts';
import { chartOf, cyclesPicture, limitMarks, type TimeSpan } from '../../views/finding-story.ts';
import type { LinePicture, Mark } from '../../views/line-picture.ts';
import { spanWords, timeWords } from '../../views/site-time.ts';
import { get, query } from '../api.ts';
import { useResource } from '../use-resource.ts';
import { Chart } from './chart.tsx';

const DAY_MS = 86_400_000;
/** Beyond this many days single cycles are a smear. */
const CYCLES_DAYS = 30;
const MOST_CYCLES = 1000;
const LEAST_SPAN_MS = 1_800_000;

type Props = { readonly detail: GeneratorDetail; readonly days: readonly DayRow[]; readonly span: TimeSpan; readonly whole: TimeSpan; readonly marks: readonly Mark[]; readonly zone: string; readonly nowMs: number; readonly onSpan: (span: TimeSpan | undefined) => void };

/** Every picture of the story on one time axis: what moved by day, then single cycles, then pressures as they came. A drag on any of them zooms all. */
export function StoryCharts(props: Props) {
  const { detail, days, span, marks, zone } = props;
  const zoom = (fromMs: number, toMs: number): void => props.onSpan({ fromMs, toMs: Math.max(toMs, fromMs + LEAST_SPAN_MS) });
  const leading = detail.row?.serviceBy === undefined || detail.row.serviceBy === null ? undefined : chartOf(detail.row.serviceBy.limit);
  const pictures = useMemo(
    () =>
      daysCharts(days, [])
        .filter((picture) => picture.id !== 'pressures')
        // The one whose limit sets the date comes first.
        .sort((a, b) => Number(b.id === leading) - Number(a.id === leading))
        .map((picture): LinePicture => {
          const framed = { ...picture, ...span, aligned: true };
          return { ...framed, marks: [...marks, ...limitMarks(picture.id, { row: detail.row, generator: detail.generator, days, picture: framed, nowMs: props.nowMs, zone })] };
        }),
    [days, span.fromMs, span.toMs, marks, detail],
  );
  return (
    <section aria-labelledby="story-charts-title">
      <div class="title-line">
        <h2 id="story-charts-title">The course of it</h2>
        <SpanButtons {...props} />
      </div>
      <p class="quiet key">
        {timeWords(span.fromMs, zone)} to {timeWords(span.toMs, zone)} ({zone}). <span class="key-onset" /> when it began, as a range <span class="key-visit-line" /> visit, done or planned <span class="key-limit" /> limit; the wedges before it: when it is met, half of the chances in the darker one, four in five in both. <span class="no-print">Drag over a picture to zoom all of them.</span>
      </p>
      <div class="story-charts">
        {pictures.map((picture) => (
          <Chart key={picture.id} picture={picture} zone={zone} daily onZoom={zoom} />
        ))}
        <CyclesChart {...props} onZoom={zoom} />
        {['tank-pressure', 'system-pressure', 'discharge-pressure'].filter((channel) => detail.latest.some((one) => one.channel === channel)).map((channel) => (
          <RawChart key={channel} {...props} channel={channel} onZoom={zoom} />
        ))}
      </div>
    </section>
  );
}

/** The same as a drag, for the keyboard. */
function SpanButtons({ span, whole, onSpan }: Props) {
  const length = span.toMs - span.fromMs;
  const zoom = (factor: number, shift: number): void => {
    const middle = (span.fromMs + span.toMs) / 2 + shift * length;
    const half = Math.max(LEAST_SPAN_MS, length * factor) / 2;
    onSpan({ fromMs: middle - half, toMs: middle + half });
  };
  return (
    <div class="views" role="group" aria-label="Span of time">
      <button type="button" onClick={() => zoom(1, -0.5)}>
        ← Earlier
      </button>
      <button type="button" onClick={() => zoom(0.5, 0)}>
        Zoom in
      </button>
      <button type="button" onClick={() => zoom(2, 0)}>
        Zoom out
      </button>
      <button type="button" onClick={() => zoom(1, 0.5)}>
        Later →
      </button>
      <button type="button" aria-pressed={span.fromMs === whole.fromMs && span.toMs === whole.toMs} onClick={() => onSpan(undefined)}>
        All of it
      </button>
    </div>
  );
}

type Zooming = Props & { readonly onZoom: (fromMs: number, toMs: number) => void };

function CyclesChart(props: Zooming) {
  const { detail, span, nowMs } = props;
  const toMs = Math.min(span.toMs, nowMs);
  const long = toMs - span.fromMs > CYCLES_DAYS * DAY_MS;
  const name = long ? 'no cycles' : `cycles ${detail.site.id}/${detail.generator.id} ${span.fromMs} ${Math.floor(toMs / 600_000)}`;
  const cycles = useResource<readonly Cycle[]>(name, async () => (long || toMs <= span.fromMs ? [] : (await get<Page<Cycle>>(`/cycles${query({ site: detail.site.id, generator: detail.generator.id, from: new Date(span.fromMs).toISOString(), to: new Date(toMs).toISOString(), limit: MOST_CYCLES })}`)).items));
  const picture = useMemo(() => cyclesPicture(cycles.value ?? [], span, props.marks), [cycles.value, span.fromMs, span.toMs, props.marks]);
  if (long) {
    return (
      <p class="quiet">
        Single cycles show when the span is {CYCLES_DAYS} days or less.{' '}
        <button type="button" onClick={() => props.onSpan({ fromMs: nowMs - 14 * DAY_MS, toMs: nowMs })}>
          The last 14 days
        </button>
      </p>
    );
  }
  if (cycles.value === undefined) return <p class="quiet chart-wait">{cycles.error ?? 'Loading the cycles…'}</p>;
  if (cycles.value.length === 0) return <p class="quiet">No cycle is known in this span.</p>;
  return (
    <>
      <Chart picture={picture} zone={props.zone} onZoom={props.onZoom} />
      {cycles.value.length >= MOST_CYCLES && <p class="quiet">Only the first {MOST_CYCLES} cycles of {spanWords(toMs - span.fromMs)} are drawn: zoom in to see the rest.</p>}
    </>
  );
}

function RawChart(props: Zooming & { readonly channel: string }) {
  const { detail, channel, span, nowMs } = props;
  const toMs = Math.min(span.toMs, nowMs);
  const name = `story ${detail.site.id}/${detail.generator.id} ${channel} ${span.fromMs} ${Math.floor(toMs / 600_000)}`;
  const answer = useResource<ReadingsAnswer | null>(name, async () => (toMs <= span.fromMs ? null : await get<ReadingsAnswer>(`/readings${query({ site: detail.site.id, generator: detail.generator.id, channel, from: new Date(span.fromMs).toISOString(), to: new Date(toMs).toISOString(), buckets: 500 })}`)));
  const picture = useMemo(() => (answer.value === undefined || answer.value === null ? undefined : { ...channelChart(answer.value), ...span, aligned: true, marks: props.marks }), [answer.value, span.fromMs, span.toMs, props.marks]);
  if (picture === undefined) return answer.error === undefined ? <p class="quiet chart-wait">Loading {channel}…</p> : <p class="problem">{answer.error}</p>;
  if (answer.value?.points.length === 0) return <p class="quiet">{picture.title}: no readings in this span.</p>;
  return <Chart picture={picture} zone={props.zone} onZoom={props.onZoom} />;
}
