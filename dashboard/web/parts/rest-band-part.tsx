import type { DayRow } from '../../../shared/cycle.ts';
import type { Entry } from '../../../shared/entry.ts';
import { bandDaysOf } from '../../views/band-days.ts';
import { durationWords, percentWords } from '../../views/number-words.ts';
import { largeRestBandSvg } from '../../views/rest-band-svg.ts';
import { wallTime } from '../../views/site-time.ts';
import { useWidthPx } from '../use-width.ts';
import { Markup } from './markup.tsx';

const SPANS = [42, 120, 400] as const;

/** The rest band of a generator, large, with its axis, its visits and the same numbers as a table. */
export function RestBandPart(props: { readonly days: readonly DayRow[] | undefined; readonly error: string | undefined; readonly visits: readonly Entry[]; readonly zone: string; readonly spanDays: number; readonly onSpan: (days: number) => void }) {
  const [holder, widthPx] = useWidthPx<HTMLDivElement>(700);
  const days = props.days ?? [];
  const band = bandDaysOf(days);
  const visitDays = props.visits.map((visit) => wallTime(Date.parse(visit.startedAt), props.zone).slice(0, 10));
  return (
    <section aria-labelledby="band-title">
      <div class="title-line">
        <h2 id="band-title">Run and rest, day by day</h2>
        <div class="views" role="group" aria-label="How many days">
          {SPANS.map((span) => (
            <button key={span} type="button" aria-pressed={props.spanDays === span} onClick={() => props.onSpan(span)}>
              {span === 400 ? 'a year' : `${span} days`}
            </button>
          ))}
        </div>
      </div>
      <p class="quiet key">
        <span class="key-run" /> mean run <span class="key-rest" /> mean rest after it <span class="key-visit" /> visit. A day without data is left open.
      </p>
      {props.error !== undefined && (
        <p class="problem" role="alert">
          {props.error}
        </p>
      )}
      <div ref={holder} class="band-holder">
        {props.days === undefined ? props.error === undefined && <p class="quiet">Loading the days…</p> : band.length === 0 ? <p class="quiet">No days are known yet.</p> : band.every((day) => day.runS === null) ? <p>Run and rest are not known here: {days.some((day) => day.source === 'duty') ? 'only the duty ratio is sent. Run state would tell them.' : 'no cycle was heard in these days.'}</p> : <Markup svg={largeRestBandSvg(band, { widthPx, heightPx: 220 }, visitDays)} />}
      </div>
      {band.length > 0 && (
        <details>
          <summary>The same as a table</summary>
          <div class="wide tall" tabIndex={0} role="group" aria-label="Table of days">
            <table>
              <thead>
                <tr>
                  <th scope="col">Day</th>
                  <th scope="col">Mean run</th>
                  <th scope="col">Mean rest</th>
                  <th scope="col">Starts</th>
                  <th scope="col">Duty ratio</th>
                </tr>
              </thead>
              <tbody>
                {band.map((day, index) => (
                  <tr key={day.day}>
                    <th scope="row">{day.day}</th>
                    <td>{day.runS === null ? 'no data' : durationWords(day.runS)}</td>
                    <td>{day.runS === null ? 'no data' : durationWords(day.restS)}</td>
                    <td>{days[index]?.starts ?? ''}</td>
                    <td>{days[index]?.dutyRatio === null || days[index] === undefined ? 'not known' : percentWords(days[index].dutyRatio)}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        </details>
      )}
    </section>
  );
}
