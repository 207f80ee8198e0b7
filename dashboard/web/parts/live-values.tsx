import { useEffect, useState } from 'preact/hooks';
import type { GeneratorDetail, LiveReading } from '../../../shared/api.ts';
import { valueWords } from '../../views/number-words.ts';
import { ageWords, timeWords } from '../../views/site-time.ts';
import { useLive } from '../live.ts';

/** The newest value of each channel with unit and age. An old one is named as old and never shown as if it were now. */
export function LiveValues(props: { readonly detail: GeneratorDetail; readonly zone: string; readonly nowMs: number }) {
  const { detail, nowMs } = props;
  const [heard, setHeard] = useState<ReadonlyMap<string, LiveReading>>(new Map());
  useEffect(() => setHeard(new Map()), [detail]);
  useLive(`?site=${encodeURIComponent(detail.site.id)}&generator=${encodeURIComponent(detail.generator.id)}`, {
    readings: (readings) =>
      setHeard((old) => {
        const next = new Map(old);
        for (const reading of readings) if (reading.at >= (next.get(reading.channel)?.at ?? '')) next.set(reading.channel, reading);
        return next;
      }),
  });
  return (
    <section aria-labelledby="live-title">
      <h2 id="live-title">Newest values</h2>
      {detail.latest.length === 0 ? (
        <p class="quiet">No value has been heard.</p>
      ) : (
        <table class="values">
          <thead>
            <tr>
              <th scope="col">Channel</th>
              <th scope="col">Value</th>
              <th scope="col">Age</th>
            </tr>
          </thead>
          <tbody>
            {detail.latest.map((one) => {
              const live = heard.get(one.channel);
              const newer = live !== undefined && live.at > one.at ? live : undefined;
              const atMs = Date.parse(newer?.at ?? one.at);
              const fresh = (newer !== undefined || one.fresh) && nowMs - atMs <= one.holdsS * 1000;
              return (
                <tr key={one.channel} class={fresh ? '' : 'old-value'}>
                  <th scope="row">{one.label}</th>
                  <td>{fresh ? valueWords(newer?.value ?? one.value, one.unit) : <span>was {valueWords(newer?.value ?? one.value, one.unit)}</span>}</td>
                  <td title={timeWords(atMs, props.zone)}>{fresh ? ageWords(atMs, nowMs) : `old: ${ageWords(atMs, nowMs)}`}</td>
                </tr>
              );
            })}
          </tbody>
        </table>
      )}
    </section>
  );
}
