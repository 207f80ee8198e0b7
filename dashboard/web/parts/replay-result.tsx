import type { ReplayedGenerator, ReplayResult } from '../../../shared/world-replay.ts';
import { group } from '../../views/number-words.ts';
import { replayLineSvg } from '../../views/replay-line-svg.ts';
import { faultOutcomeWords, faultWords, OUTCOME_WORDS, replayedFindingWords, replaySummaryWords } from '../../views/replay-words.ts';
import { largeRestBandSvg } from '../../views/rest-band-svg.ts';
import { timeWords, wallTime } from '../../views/site-time.ts';
import { useWidthPx } from '../use-width.ts';
import { Markup } from './markup.tsx';

/** What was true, what was found, and how early; the false findings with what was said for them. Simulated throughout. */
export function ReplayResultPart({ result }: { readonly result: ReplayResult }) {
  const [holder, widthPx] = useWidthPx<HTMLDivElement>(700);
  // Where something was or was said comes first; the rest follows in its order.
  const told = result.generators.filter((one) => one.faults.length + one.findings.length > 0);
  const quiet = result.generators.filter((one) => one.faults.length + one.findings.length === 0);
  return (
    <section aria-labelledby="replay-result-title">
      <h2 id="replay-result-title">“{result.name}”, seed {result.seed}</h2>
      <p>
        <strong>Simulated.</strong> {replaySummaryWords(result)}
      </p>
      <p class="quiet">
        {result.generators.length} {result.generators.length === 1 ? 'generator' : 'generators'}, {result.days} invented days from {result.fromAt.slice(0, 10)}, {group(result.readings)} readings. Analysis settings <code>{result.settings}</code>.
      </p>
      <FaultTable generators={told} />
      <FalseTable generators={told} />
      <p class="quiet key">
        <span class="key-run" /> mean run <span class="key-rest" /> mean rest after it <span class="key-visit" /> visit. Above the band: what was true, what befell it besides (upsets), what was found.
      </p>
      <div ref={holder}>
        {[...told, ...quiet].map((one) => (
          <section key={`${one.site}/${one.generator}`} class="replay-one">
            <h3>
              {one.site} / {one.generator}
            </h3>
            <Markup svg={replayLineSvg(one, widthPx)} />
            {one.days.every((day) => day.runS === null) ? <p class="quiet">Run and rest are not known here: it sends no run state.</p> : <Markup svg={largeRestBandSvg(one.days, { widthPx, heightPx: 160 }, one.visits.map((at) => wallTime(Date.parse(at), one.zone).slice(0, 10)))} />}
          </section>
        ))}
      </div>
    </section>
  );
}

function FaultTable({ generators }: { readonly generators: readonly ReplayedGenerator[] }) {
  const rows = generators.flatMap((one) => one.faults.map((fault) => ({ one, fault })));
  if (rows.length === 0) return null;
  return (
    <>
      <h3>True faults ({rows.length})</h3>
      <div class="wide" tabIndex={0} role="group" aria-label="Table of true faults">
        <table class="replay-faults">
          <thead>
            <tr>
              <th scope="col">Generator</th>
              <th scope="col">What was wrong</th>
              <th scope="col">From</th>
              <th scope="col">To</th>
              <th scope="col">What became of it</th>
            </tr>
          </thead>
          <tbody>
            {rows.map(({ one, fault }, index) => (
              <tr key={index}>
                <th scope="row">
                  {one.site} / {one.generator}
                </th>
                <td>{faultWords(fault)}</td>
                <td>{timeWords(Date.parse(fault.onset), one.zone)}</td>
                <td>{fault.end === null ? 'still there' : timeWords(Date.parse(fault.end), one.zone)}</td>
                <td>{faultOutcomeWords(fault)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </>
  );
}

function FalseTable({ generators }: { readonly generators: readonly ReplayedGenerator[] }) {
  const rows = generators.flatMap((one) => one.findings.filter((finding) => finding.outcome === 'false').map((finding) => ({ one, finding })));
  return (
    <>
      <h3>False findings ({rows.length})</h3>
      {rows.length === 0 ? <p>None.</p> : (
        <div class="wide" tabIndex={0} role="group" aria-label="Table of false findings">
          <table class="replay-false-findings">
            <thead>
              <tr>
                <th scope="col">Generator</th>
                <th scope="col">What was said</th>
                <th scope="col">Opened</th>
                <th scope="col">Closed</th>
                <th scope="col">Evidence</th>
              </tr>
            </thead>
            <tbody>
              {rows.map(({ one, finding }, index) => (
                <tr key={index}>
                  <th scope="row">
                    {one.site} / {one.generator}
                  </th>
                  <td>
                    {replayedFindingWords(finding)}: {OUTCOME_WORDS[finding.outcome]}
                  </td>
                  <td>{timeWords(Date.parse(finding.openedAt), one.zone)}</td>
                  <td>{finding.closedAt === null ? 'still open' : timeWords(Date.parse(finding.closedAt), one.zone)}</td>
                  <td>{finding.because.join('; ')}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
    </>
  );
}
