import { useEffect, useState } from 'preact/hooks';
import type { ReadingsAnswer } from '../../../shared/api.ts';
import { gaugeFromKPa, type GaugeUnit, gaugeWords } from '../../views/gauge-units.ts';
import { linePictureSvg } from '../../views/line-picture-svg.ts';
import type { LinePicture } from '../../views/line-picture.ts';
import { valueWords } from '../../views/number-words.ts';
import { ageWords } from '../../views/site-time.ts';
import { get, query } from '../api.ts';
import { Markup } from '../parts/markup.tsx';
import { useWidthPx } from '../use-width.ts';
import type { Draft } from './draft.ts';
import { visitNowMs } from './visit-clock.ts';

const SPAN_MS = 15 * 60_000;
const EVERY_MS = 15_000;
const CHANNELS = ['system-pressure', 'tank-pressure', 'discharge-pressure', 'running', 'nitrogen'];

/** The last 15 minutes as Lull hears them, while there is signal; without it the page says so and shows nothing old as new. */
export function LiveQuarter(props: { readonly draft: Draft; readonly generator: string }) {
  const { draft, generator } = props;
  const card = draft.cards[generator];
  const channels = (card?.detail.latest ?? []).map((one) => one.channel).filter((channel) => CHANNELS.includes(channel.split('.')[0] ?? '')).sort((a, b) => CHANNELS.indexOf(a.split('.')[0] ?? '') - CHANNELS.indexOf(b.split('.')[0] ?? ''));
  const [heard, setHeard] = useState<{ readonly atMs: number; readonly answers: readonly ReadingsAnswer[] } | undefined>(undefined);
  const [signal, setSignal] = useState(true);
  const [place, widthPx] = useWidthPx<HTMLDivElement>(340);
  useEffect(() => {
    let gone = false;
    const load = async (): Promise<void> => {
      const nowMs = visitNowMs();
      const span = { site: draft.site, generator, from: new Date(nowMs - SPAN_MS).toISOString(), to: new Date(nowMs).toISOString(), buckets: 90 };
      try {
        const answers = await Promise.all(channels.map((channel) => get<ReadingsAnswer>(`/readings${query({ ...span, channel })}`)));
        if (!gone) setHeard({ atMs: nowMs, answers });
        if (!gone) setSignal(true);
      } catch {
        if (!gone) setSignal(false);
      }
    };
    void load();
    const timer = window.setInterval(() => void load(), EVERY_MS);
    return () => {
      gone = true;
      window.clearInterval(timer);
    };
  }, [generator, channels.join(' ')]);
  const zone = card?.detail.site.timeZone ?? 'UTC';
  return (
    <div ref={place} class="live-quarter">
      <h4>The last 15 minutes, as Lull hears them</h4>
      {!signal && <p class="quiet">No signal: Lull can't be asked now. Go by your gauges.</p>}
      {signal && channels.length === 0 && <p class="quiet">This generator sends no pressures.</p>}
      {signal &&
        heard?.answers.map((answer) => {
          const last = answer.points.at(-1);
          if (last === undefined) return <p key={answer.channel} class="quiet">{answer.label}: no reading in the last 15 minutes</p>;
          return (
            <figure key={answer.channel} class="chart">
              <figcaption>
                <strong>{answer.label}</strong> {answer.unit === 'kPa' ? gaugeWords(last[2], draft.unit) : valueWords(last[2], answer.unit)}, {ageWords(last[0], heard.atMs)}
              </figcaption>
              {answer.unit !== '0/1' && <Markup svg={linePictureSvg(pictureOf(answer, draft.unit), { widthPx, heightPx: 110 }, zone)} />}
            </figure>
          );
        })}
    </div>
  );
}

function pictureOf(answer: ReadingsAnswer, gauge: GaugeUnit): LinePicture {
  const shown = (value: number): number => (answer.unit === 'ratio' ? value * 100 : answer.unit === 'kPa' ? gaugeFromKPa(value, gauge) : value);
  const points = answer.points.map(([atMs, , mean]) => ({ x: atMs, y: shown(mean) }));
  const unit = answer.unit === 'ratio' ? '%' : answer.unit === 'kPa' ? gauge : answer.unit;
  return { id: answer.channel, title: answer.label, unit, fromMs: Date.parse(answer.fromAt), toMs: Date.parse(answer.toAt), startAtZero: false, leastSpan: answer.unit === 'ratio' ? 0.5 : answer.unit === 'kPa' ? gaugeFromKPa(5, gauge) : 5, series: [{ label: answer.label, shade: 'strong', stepped: false, points }], marks: [] };
}
