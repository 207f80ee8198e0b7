import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { type LinePicture, pictureSays } from '../../views/line-picture.ts';
import { inShownUnits } from '../../views/shown-picture.ts';
import { timeWords } from '../../views/site-time.ts';

/**
 * A picture over time on a canvas. The drawing program is loaded when the first one is shown; the same numbers stand in a
 * table behind it, and the canvas carries them in words.
 */
export function Chart(props: { readonly picture: LinePicture; readonly zone: string; readonly daily?: boolean; /** A drag over the picture chooses a span of time. */ readonly onZoom?: (fromMs: number, toMs: number) => void }) {
  const { zone } = props;
  const picture = useMemo(() => inShownUnits(props.picture), [props.picture]);
  const zoom = useRef(props.onZoom);
  zoom.current = props.onZoom;
  const canvas = useRef<HTMLCanvasElement>(null);
  const [failed, setFailed] = useState(false);
  const [tableShown, setTableShown] = useState(false);
  useEffect(() => {
    let remove: (() => void) | undefined;
    let gone = false;
    const draw = async (): Promise<void> => {
      try {
        const { drawChart } = await import('../draw-chart.ts');
        if (!gone && canvas.current !== null) remove = drawChart(canvas.current, picture, zone, zoom.current === undefined ? undefined : (fromMs, toMs) => zoom.current?.(fromMs, toMs));
      } catch {
        setFailed(true);
      }
    };
    void draw();
    return () => {
      gone = true;
      remove?.();
    };
  }, [picture, zone]);
  return (
    <figure class="chart">
      <figcaption>
        <strong>{picture.title}</strong>, {picture.unit}
        {picture.series.filter((series) => series.label !== '').length > 1 && (
          <span class="chart-key">
            {picture.series.map((series) => (
              <span key={series.label}>
                <span class={`line line-${series.floor === undefined ? series.shade : 'band'}`} /> {series.label}
              </span>
            ))}
          </span>
        )}
      </figcaption>
      <div class={props.onZoom === undefined ? 'canvas-holder' : 'canvas-holder canvas-zoom'}>{failed ? <p class="problem">The chart could not be loaded. The table below has the numbers.</p> : <canvas ref={canvas} role="img" aria-label={pictureSays(picture)} />}</div>
      <details onToggle={(event) => setTableShown(event.currentTarget.open)}>
        <summary>The same as a table</summary>
        {tableShown && <PictureTable picture={picture} zone={zone} daily={props.daily === true} />}
      </details>
    </figure>
  );
}

function PictureTable(props: { readonly picture: LinePicture; readonly zone: string; readonly daily: boolean }) {
  const { picture } = props;
  const times = [...new Set(picture.series.flatMap((series) => series.points.map((point) => point.x)))].sort((a, b) => a - b);
  const columns = picture.series.flatMap((series) => (series.floor === undefined ? [{ label: series.label, points: series.points }] : [{ label: 'least', points: series.floor }, { label: 'greatest', points: series.points }]));
  const values = columns.map((column) => new Map(column.points.map((point) => [point.x, point.y])));
  return (
    <div class="wide tall" tabIndex={0} role="group" aria-label={`Table: ${picture.title}`}>
      <table>
        <thead>
          <tr>
            <th scope="col">{props.daily ? 'Day' : 'Time'}</th>
            {columns.map((column) => (
              <th key={column.label} scope="col">
                {column.label}, {picture.unit}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {times.map((x) => (
            <tr key={x}>
              <th scope="row">{props.daily ? timeWords(x, props.zone).split(',')[0] : timeWords(x, props.zone)}</th>
              {values.map((column, index) => {
                const y = column.get(x);
                return <td key={index}>{y === undefined || Number.isNaN(y) ? 'no data' : Number(y.toPrecision(4))}</td>;
              })}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
