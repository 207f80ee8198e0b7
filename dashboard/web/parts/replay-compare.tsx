import type { ReplayResult, ReplaySettings, ReplaySide } from '../../../shared/world-replay.ts';
import { type FindingPair, findingPairs } from '../../views/replay-compare.ts';
import { measureWords, REPLAY_SETTING_WORDS, replayedFindingWords, replaySideWords } from '../../views/replay-words.ts';
import { timeWords } from '../../views/site-time.ts';

const NAMES = Object.keys(REPLAY_SETTING_WORDS) as (keyof ReplaySettings)[];
const LISTED_MEASURES = 40;

/** Two choices of settings over the same input: what they are, what gets better and what worse, finding by finding. */
export function ReplayCompare({ result, other, names }: { readonly result: ReplayResult; readonly other: ReplaySide; readonly names: ReadonlyMap<string, string> }) {
  const { first, measures } = result;
  const differing = measures.filter((one) => one.better !== null);
  const equal = measures.length - differing.length;
  return (
    <section class="replay-compare" aria-labelledby="replay-compare-title">
      <h3 id="replay-compare-title">A beside B</h3>
      <div class="wide" tabIndex={0} role="group" aria-label="Table of both settings">
        <table class="replay-both">
          <thead>
            <tr>
              <th scope="col">Setting</th>
              <th scope="col">A</th>
              <th scope="col">B</th>
            </tr>
          </thead>
          <tbody>
            {NAMES.map((name) => (
              <tr key={name}>
                <th scope="row">{REPLAY_SETTING_WORDS[name]}</th>
                <td>{first.settings[name]}</td>
                <td>{other.settings[name] === first.settings[name] ? 'the same' : other.settings[name]}</td>
              </tr>
            ))}
            <tr>
              <th scope="row">In all</th>
              <td>{replaySideWords(first)}</td>
              <td>{replaySideWords(other)}</td>
            </tr>
          </tbody>
        </table>
      </div>
      {measures.length > 0 && (differing.length === 0 ? <p>No measure differs.</p> : (
        <div class="wide" tabIndex={0} role="group" aria-label="Table of what gets better and what worse">
          <table class="replay-measures">
            <thead>
              <tr>
                <th scope="col">What</th>
                <th scope="col">A</th>
                <th scope="col">B</th>
                <th scope="col">Better</th>
              </tr>
            </thead>
            <tbody>
              {differing.slice(0, LISTED_MEASURES).map((one) => (
                <tr key={one.measure}>
                  <th scope="row">{one.measure.replaceAll('-', ' ').replace(/, h$/, '')}</th>
                  <td>{measureWords(one, one.a)}</td>
                  <td>{measureWords(one, one.b)}</td>
                  <td>{one.better === 'a' ? 'A' : 'B'}</td>
                </tr>
              ))}
            </tbody>
          </table>
          {equal > 0 && <p class="quiet">{equal} more {equal === 1 ? 'measure is' : 'measures are'} equal, or known on one side only.</p>}
        </div>
      ))}
      <PairTable pairs={findingPairs(first, other)} names={names} />
    </section>
  );
}

function PairTable({ pairs, names }: { readonly pairs: readonly FindingPair[]; readonly names: ReadonlyMap<string, string> }) {
  if (pairs.length === 0) return <p>Neither found anything.</p>;
  const cell = (finding: FindingPair['a'], zone: string): string => (finding === null ? '–' : `${replayedFindingWords(finding)}, ${timeWords(Date.parse(finding.openedAt), zone)}`);
  return (
    <div class="wide" tabIndex={0} role="group" aria-label="Table of the findings of both">
      <table class="replay-pairs">
        <thead>
          <tr>
            <th scope="col">Generator</th>
            <th scope="col">A found</th>
            <th scope="col">B found</th>
            <th scope="col">Difference</th>
          </tr>
        </thead>
        <tbody>
          {pairs.map((one, index) => (
            <tr key={index}>
              <th scope="row">{names.get(`${one.site}/${one.generator}`) ?? `${one.site} / ${one.generator}`}</th>
              <td>{cell(one.a, one.zone)}</td>
              <td>{cell(one.b, one.zone)}</td>
              <td>{one.says}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
