import { useMemo } from 'preact/hooks';
import type { GeneratorDetail } from '../../../shared/api.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { CAUSE_WORDS, ENTRY_KIND_WORDS } from '../../views/domain-words.ts';
import { daysCharts } from '../../views/days-chart.ts';
import type { Mark } from '../../views/line-picture.ts';
import { dateWords } from '../../views/site-time.ts';
import { Chart } from './chart.tsx';

/** Onset of each open finding as a span, each visit as a line. */
function marksOf(detail: GeneratorDetail, zone: string): Mark[] {
  const onsets = detail.findings
    .filter((finding) => finding.state !== 'closed')
    .map((finding): Mark => {
      const likelyMs = Date.parse(finding.onset.likely ?? finding.openedAt);
      const fromMs = finding.onset.earliest === null ? likelyMs : Date.parse(finding.onset.earliest);
      const toMs = finding.onset.latest === null ? likelyMs : Date.parse(finding.onset.latest);
      return { kind: 'onset', fromMs, toMs, says: `start of: ${CAUSE_WORDS[finding.cause].toLowerCase()}` };
    });
  const visits = detail.visits.map((visit): Mark => ({ kind: 'visit', atMs: Date.parse(visit.startedAt), says: `${ENTRY_KIND_WORDS[visit.kind]} ${dateWords(Date.parse(visit.startedAt), zone)}` }));
  return [...onsets, ...visits];
}

export function DaysCharts(props: { readonly days: readonly DayRow[] | undefined; readonly detail: GeneratorDetail; readonly zone: string }) {
  const pictures = useMemo(() => daysCharts(props.days ?? [], marksOf(props.detail, props.zone)), [props.days, props.detail]);
  if (pictures.length === 0) return null;
  return (
    <section aria-labelledby="days-title">
      <h2 id="days-title">What moved, day by day</h2>
      <p class="quiet key">
        <span class="key-onset" /> when it began, as a range <span class="key-visit-line" /> visit. Days without data are left open.
      </p>
      <div class="charts">
        {pictures.map((picture) => (
          <Chart key={picture.id} picture={picture} zone={props.zone} daily />
        ))}
      </div>
    </section>
  );
}
