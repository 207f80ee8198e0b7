import type { GeneratorDetail } from '../../../shared/api.ts';
import { sentenceInShownUnits } from '../../views/shown-units.ts';

/** How urgent it would be, what silence means here, and the demand in the trade's terms: quiet, below what is found. */
export function Reviewed(props: { readonly detail: GeneratorDetail }) {
  const { urgency, canShow, leakTerms } = props.detail;
  return (
    <>
      {urgency != null && (
        <section aria-labelledby="urgency-title">
          <h2 id="urgency-title">If it stops now</h2>
          <p>{sentenceInShownUnits(urgency.says)}</p>
        </section>
      )}
      {canShow != null && (
        <section aria-labelledby="can-show-title">
          <h2 id="can-show-title">What would be seen here</h2>
          <Sentences all={canShow.says} />
          <p class="quiet">Smaller changes stay unseen: no finding is no proof of order.</p>
        </section>
      )}
      {leakTerms != null && (
        <section aria-labelledby="leak-title">
          <h2 id="leak-title">Demand as a leak</h2>
          <Sentences all={leakTerms.says} />
        </section>
      )}
    </>
  );
}

function Sentences(props: { readonly all: readonly string[] }) {
  return (
    <ul>
      {props.all.map((sentence) => (
        <li key={sentence}>{sentenceInShownUnits(sentence)}</li>
      ))}
    </ul>
  );
}
