import type { Entry } from '../../../shared/entry.ts';
import { ENTRY_KIND_WORDS, PART_WORDS } from '../../views/domain-words.ts';
import { measuredValueWords } from '../../views/measured-words.ts';
import { timeWords } from '../../views/site-time.ts';

function measuredWords(values: Readonly<Record<string, number>> | undefined): string {
  return Object.entries(values ?? {}).map(([name, value]) => measuredValueWords(name, value)).join(', ');
}

/** What people logged, newest first. */
export function VisitList(props: { readonly visits: readonly Entry[]; readonly zone: string }) {
  const visits = [...props.visits].sort((a, b) => Date.parse(b.startedAt) - Date.parse(a.startedAt));
  return (
    <section aria-labelledby="visits-title">
      <h2 id="visits-title">Visits and tests</h2>
      {visits.length === 0 ? (
        <p class="quiet">None is recorded.</p>
      ) : (
        <ol class="visits">
          {visits.map((visit) => {
            const found = measuredWords(visit.readings.asFound);
            const left = measuredWords(visit.readings.asLeft);
            return (
              <li key={visit.id}>
                <strong>
                  {timeWords(Date.parse(visit.startedAt), props.zone)}, {ENTRY_KIND_WORDS[visit.kind]}
                </strong>
                {visit.by !== undefined && `, by ${visit.by}`}
                {visit.replaced.length > 0 && <span class="under">replaced: {visit.replaced.map((part) => PART_WORDS[part]).join(', ')}</span>}
                {found !== '' && <span class="under">as found: {found}</span>}
                {left !== '' && <span class="under">as left: {left}</span>}
                {visit.note !== undefined && visit.note !== '' && <span class="under">{visit.note}</span>}
              </li>
            );
          })}
        </ol>
      )}
    </section>
  );
}
