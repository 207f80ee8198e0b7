import type { BeforeAfter, GeneratorDetail } from '../../../shared/api.ts';
import { durationWords, NBSP, percentWords, valueWords } from '../../views/number-words.ts';
import { timeWords } from '../../views/site-time.ts';

const VERDICT_WORDS = { improved: 'It improved.', 'not improved': 'It did not improve.', worse: 'It is worse than before.', 'not enough data yet': 'Not enough data yet to tell.' } as const;

/** Did it help: the days before the last visit against the days after it. */
export function SinceVisit(props: { readonly detail: GeneratorDetail; readonly zone: string }) {
  const since = props.detail.sinceVisit;
  if (since === null) return null;
  const { before, after } = since;
  const flow = (value: number | null, of: BeforeAfter): string => (value === null ? 'not known' : `${Number(value.toPrecision(3))}${NBSP}${of.unit === 'relative' ? '(relative)' : of.unit}`);
  const rows: readonly (readonly [name: string, words: (side: BeforeAfter) => string])[] = [
    ['Days', (side) => String(side.days)],
    ['Duty ratio', (side) => (side.dutyRatio === null ? 'not known' : percentWords(side.dutyRatio))],
    ['Mean run', (side) => (side.meanRunMin === null ? 'not known' : durationWords(side.meanRunMin * 60))],
    ['Mean rest', (side) => (side.meanRestMin === null ? 'not known' : durationWords(side.meanRestMin * 60))],
    ['Demand', (side) => flow(side.demand, side)],
    ['Delivery', (side) => flow(side.delivery, side)],
    ['Drop over elements', (side) => (side.elementDropKPa === null ? 'not known' : valueWords(side.elementDropKPa, 'kPa'))],
    ['Nitrogen', (side) => (side.nitrogen === null ? 'not known' : `${(side.nitrogen * 100).toFixed(1)}${NBSP}%`)],
  ];
  return (
    <section aria-labelledby="since-title">
      <h2 id="since-title">Did the last visit help?</h2>
      <p>
        <strong>{VERDICT_WORDS[since.verdict]}</strong> Visit that ended {timeWords(Date.parse(since.visitedAt), props.zone)}.
      </p>
      <table class="values">
        <thead>
          <tr>
            <th scope="col">Mean of days</th>
            <th scope="col">Before</th>
            <th scope="col">After</th>
          </tr>
        </thead>
        <tbody>
          {rows.filter(([, words]) => words(before) !== 'not known' || words(after) !== 'not known').map(([name, words]) => (
            <tr key={name}>
              <th scope="row">{name}</th>
              <td>{words(before)}</td>
              <td>{words(after)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}
