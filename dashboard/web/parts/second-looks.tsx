import type { GeneratorDetail } from '../../../shared/api.ts';
import { timeWords } from '../../views/site-time.ts';

const LOOK_WORDS = { '4 h': '4 h after it', '24 h': '24 h after it', days: 'by whole days' } as const;
const VERDICT_WORDS = { improved: 'improved', 'not improved': 'not improved', worse: 'worse', 'not enough data yet': 'not enough data yet' } as const;

/** The looks back at the last visit, which come by themselves, with the figures that they rest on. */
export function SecondLooks(props: { readonly detail: GeneratorDetail; readonly zone: string }) {
  const looks = props.detail.secondLooks ?? [];
  if (looks.length === 0) return null;
  return (
    <section aria-labelledby="looks-title">
      <h2 id="looks-title">Looks back at it</h2>
      <ul class="others">
        {looks.map((one) => (
          <li key={one.look}>
            <details>
              <summary>
                {LOOK_WORDS[one.look]}: {VERDICT_WORDS[one.verdict]} <span class="quiet">({timeWords(Date.parse(one.at), props.zone)})</span>
              </summary>
              <ul>
                {one.says.map((sentence) => (
                  <li key={sentence}>{sentence}</li>
                ))}
                {one.recurrence !== null && (
                  <li>
                    It came back: <a href={`/findings/${encodeURIComponent(one.recurrence[1])}`}>the finding since the visit</a> has a cause of <a href={`/findings/${encodeURIComponent(one.recurrence[0])}`}>the one before it</a>.
                  </li>
                )}
              </ul>
            </details>
          </li>
        ))}
      </ul>
    </section>
  );
}
