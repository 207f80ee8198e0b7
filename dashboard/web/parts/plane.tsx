import type { OverviewRow } from '../../../shared/api.ts';
import { demandDeliveryPlaneSvg, type PlanePoint, planeShapes } from '../../views/demand-delivery-plane-svg.ts';
import { CAUSE_WORDS, shapeOf } from '../../views/domain-words.ts';
import { changeWords, percentWords } from '../../views/number-words.ts';
import { generatorHref } from '../router.ts';
import { useWidthPx } from '../use-width.ts';
import { Markup } from './markup.tsx';
import { type Brush, BrushArea } from './plane-brush.tsx';

function pointOf(row: OverviewRow): PlanePoint[] {
  if (row.demandChange === null || row.deliveryChange === null) return [];
  const cause = row.lead?.cause ?? null;
  return [{ key: `${row.site}/${row.generator}`, name: `${row.siteName === '' ? row.site : row.siteName}, ${row.generatorName === '' ? row.generator : row.generatorName}`, href: generatorHref(row.site, row.generator), demandChange: row.demandChange, deliveryChange: row.deliveryChange, shape: cause === null ? null : shapeOf(cause), rank: row.rank }];
}

/** As many rows as somebody reads in a table. */
const TABLE_ROWS = 500;

/** The fleet on the demand–delivery plane, with its key in words and the same numbers as a table. */
export function Plane(props: { readonly rows: readonly OverviewRow[]; readonly brush: Brush | undefined }) {
  const [holder, widthPx] = useWidthPx<HTMLDivElement>(640);
  const points = props.rows.flatMap(pointOf);
  const pictureWidthPx = Math.min(760, widthPx);
  const without = props.rows.length - points.length;
  return (
    <div class="plane-view">
      <div class="plane-picture" ref={holder}>
        {points.length === 0 ? <p>None of these generators can be drawn yet.</p> : (
          <BrushArea geometry={planeShapes(points, pictureWidthPx)} brush={props.brush}>
            <Markup svg={demandDeliveryPlaneSvg(points, pictureWidthPx)} />
          </BrushArea>
        )}
      </div>
      <div class="plane-words">
        <p>Each mark is a generator, set against its own baseline. To the right, more nitrogen is drawn: look for leaks, bleeds and drains of the tank. Upward, less is made while running: look for elements, drains, compressor and membrane. On a dotted line the run time is equal.</p>
        <ul class="plane-key">
          <li>
            <span class="mark mark-demand" /> found on the demand side
          </li>
          <li>
            <span class="mark mark-delivery" /> found on the delivery side
          </li>
          <li>
            <span class="mark mark-running" /> found: does not start or stop as it should
          </li>
          <li>
            <span class="mark mark-data" /> found: instruments, data, or can't tell
          </li>
          <li>
            <span class="mark mark-quiet" /> nothing found
          </li>
        </ul>
        {without > 0 && <p class="quiet">{without} not drawn: no baseline yet, or run and rest are not sent.</p>}
        <details>
          <summary>The same as a table</summary>
          <div class="wide">
            <table>
              <thead>
                <tr>
                  <th scope="col">Generator</th>
                  <th scope="col">Demand</th>
                  <th scope="col">Delivery</th>
                  <th scope="col">Duty ratio</th>
                  <th scope="col">Cause</th>
                </tr>
              </thead>
              <tbody>
                {props.rows.slice(0, TABLE_ROWS).map((row) => (
                  <tr key={`${row.site}/${row.generator}`}>
                    <th scope="row">
                      <a href={generatorHref(row.site, row.generator)}>
                        {row.siteName}, {row.generatorName}
                      </a>
                    </th>
                    <td>{row.demandChange === null ? 'not known' : changeWords(row.demandChange)}</td>
                    <td>{row.deliveryChange === null ? 'not known' : changeWords(row.deliveryChange)}</td>
                    <td>{row.dutyRatio === null ? 'not known' : percentWords(row.dutyRatio)}</td>
                    <td>{row.lead === null ? 'nothing found' : CAUSE_WORDS[row.lead.cause]}</td>
                  </tr>
                ))}
              </tbody>
            </table>
            {props.rows.length > TABLE_ROWS && <p class="quiet">The first {TABLE_ROWS} of {props.rows.length}; filters narrow it down.</p>}
          </div>
        </details>
      </div>
    </div>
  );
}
