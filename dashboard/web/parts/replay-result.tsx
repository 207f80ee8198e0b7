import type { ReplayedFinding, ReplayedGenerator, ReplayResult, ReplaySide } from '../../../shared/world-replay.ts';
import { group } from '../../views/number-words.ts';
import { replayLineSvg } from '../../views/replay-line-svg.ts';
import { faultOutcomeWords, faultWords, OUTCOME_WORDS, REPLAY_KIND_WORDS, replayedFindingWords, replaySideWords } from '../../views/replay-words.ts';
import { largeRestBandSvg } from '../../views/rest-band-svg.ts';
import { dateWords, timeWords, wallTime } from '../../views/site-time.ts';
import { useWidthPx } from '../use-width.ts';
import { Markup } from './markup.tsx';
import { ReplayCompare } from './replay-compare.tsx';

/** What generators are called here, by `site/generator`; those of invented worlds have ids alone. */
export type ReplayNames = ReadonlyMap<string, string>;
const keyOf = (one: ReplayedGenerator): string => `${one.site}/${one.generator}`;
const nameOf = (one: ReplayedGenerator, names: ReplayNames): string => names.get(keyOf(one)) ?? `${one.site} / ${one.generator}`;

/** What was true, where that is known, what was found, and how early; with two choices of settings side by side. */
export function ReplayResultPart({ result, names }: { readonly result: ReplayResult; readonly names: ReplayNames }) {
  const [holder, widthPx] = useWidthPx<HTMLDivElement>(700);
  const { first, other, kind } = result;
  const twins = new Map((other?.generators ?? []).map((one) => [keyOf(one), one]));
  const said = (one: ReplayedGenerator): number => one.faults.length + one.findings.length + (twins.get(keyOf(one))?.findings.length ?? 0);
  // Where something was or was said comes first; the rest follows in its order.
  const told = first.generators.filter((one) => said(one) > 0);
  const quiet = first.generators.filter((one) => said(one) === 0);
  const [label] = REPLAY_KIND_WORDS[kind];
  return (
    <section aria-labelledby="replay-result-title">
      <h2 id="replay-result-title">“{result.name}”{result.seed === null ? '' : `, seed ${result.seed}`}</h2>
      {other === null ? (
        <p>
          <strong>{label}</strong> {replaySideWords(first)}
        </p>
      ) : (
        <p>
          <strong>{label}</strong> The same input under two choices of settings, A and B.
        </p>
      )}
      <p class="quiet">
        {first.generators.length} {first.generators.length === 1 ? 'generator' : 'generators'}, {Math.round(result.days * 10) / 10} {kind === 'simulated' ? 'invented ' : ''}days from {dateWords(Date.parse(result.fromAt), 'UTC')} (UTC), {group(result.readings)} readings{result.refused === 0 ? '' : `, ${group(result.refused)} refused by the decoder`}. Analysis settings <code>{first.hash}</code>
        {other === null ? '' : <> (A) and <code>{other.hash}</code> (B)</>}.
      </p>
      {other !== null && <ReplayCompare result={result} other={other} names={names} />}
      <FaultTable kind={kind} first={first} other={other} names={names} />
      {kind === 'simulated' ? <FindingTable title={other === null ? 'False findings' : 'False findings of A'} side={first} names={names} wanted={(finding) => finding.outcome === 'false'} /> : other === null && <FindingTable title="Findings" side={first} names={names} wanted={() => true} />}
      {kind === 'simulated' && other !== null && <FindingTable title="False findings of B" side={other} names={names} wanted={(finding) => finding.outcome === 'false'} />}
      <p class="quiet key">
        <span class="key-run" /> mean run <span class="key-rest" /> mean rest after it <span class="key-visit" /> visit. Above the band: {kind === 'simulated' ? 'what was true, what befell it besides (upsets), what was found' : kind === 'rebuilt' ? 'the fault laid over, and what was found' : 'what was found'}. Days are those of each site.
      </p>
      <div ref={holder}>
        {[...told, ...quiet].map((one) => {
          const twin = twins.get(keyOf(one));
          return (
            <section key={keyOf(one)} class="replay-one">
              <h3>{nameOf(one, names)} <span class="quiet">({one.zone})</span></h3>
              {twin !== undefined && <p class="quiet">A</p>}
              <Markup svg={replayLineSvg(one, widthPx)} />
              {twin !== undefined && (
                <>
                  <p class="quiet">B</p>
                  <Markup svg={replayLineSvg({ ...twin, faults: [], upsets: [] }, widthPx, one)} />
                </>
              )}
              {one.days.every((day) => day.runS === null) ? <p class="quiet">Run and rest are not known here: it sends no run state.</p> : <Markup svg={largeRestBandSvg(one.days, { widthPx, heightPx: 160 }, one.visits.map((at) => wallTime(Date.parse(at), one.zone).slice(0, 10)))} />}
            </section>
          );
        })}
      </div>
    </section>
  );
}

function FaultTable({ kind, first, other, names }: { readonly kind: ReplayResult['kind']; readonly first: ReplaySide; readonly other: ReplaySide | null; readonly names: ReplayNames }) {
  const rows = first.generators.flatMap((one, index) => one.faults.map((fault, place) => ({ one, fault, twin: other?.generators[index]?.faults[place] })));
  if (rows.length === 0) return null;
  const title = kind === 'rebuilt' ? 'Faults laid over' : 'True faults';
  return (
    <>
      <h3>
        {title} ({rows.length})
      </h3>
      <div class="wide" tabIndex={0} role="group" aria-label={`Table: ${title}`}>
        <table class="replay-faults">
          <thead>
            <tr>
              <th scope="col">Generator</th>
              <th scope="col">What was wrong</th>
              <th scope="col">From</th>
              <th scope="col">To</th>
              <th scope="col">{other === null ? 'What became of it' : 'With A'}</th>
              {other !== null && <th scope="col">With B</th>}
            </tr>
          </thead>
          <tbody>
            {rows.map(({ one, fault, twin }, index) => (
              <tr key={index}>
                <th scope="row">{nameOf(one, names)}</th>
                <td>{faultWords(fault)}</td>
                <td>{timeWords(Date.parse(fault.onset), one.zone)}</td>
                <td>{fault.end === null ? 'still there' : timeWords(Date.parse(fault.end), one.zone)}</td>
                <td>{faultOutcomeWords(fault)}</td>
                {twin !== undefined && <td>{faultOutcomeWords(twin)}</td>}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </>
  );
}

function FindingTable({ title, side, names, wanted }: { readonly title: string; readonly side: ReplaySide; readonly names: ReplayNames; readonly wanted: (finding: ReplayedFinding) => boolean }) {
  const rows = side.generators.flatMap((one) => one.findings.filter(wanted).map((finding) => ({ one, finding })));
  return (
    <>
      <h3>
        {title} ({rows.length})
      </h3>
      {rows.length === 0 ? <p>None.</p> : (
        <div class="wide" tabIndex={0} role="group" aria-label={`Table: ${title}`}>
          <table class="replay-findings">
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
                  <th scope="row">{nameOf(one, names)}</th>
                  <td>
                    {replayedFindingWords(finding)}
                    {finding.outcome === 'unjudged' ? '' : `: ${OUTCOME_WORDS[finding.outcome]}`}
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
