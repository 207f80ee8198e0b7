import type { GeneratorDetail } from '../../../shared/api.ts';
import type { Finding } from '../../../shared/finding.ts';
import { isBeingChecked, servedSince, workWords } from '../../views/being-checked.ts';
import { CLOSING_WORDS, FINDING_STATE_WORDS, sureWords, weighedWords } from '../../views/domain-words.ts';
import { causeSentence, evidenceSides, movedSentence, onsetSentence, weightWords } from '../../views/finding-sentences.ts';
import { channelWords } from '../../views/channel-words.ts';
import { sentenceInShownUnits } from '../../views/shown-units.ts';
import { dateWords, timeWords } from '../../views/site-time.ts';
import { conditionWords, type WaitWords, waitWords } from '../../views/wait-words.ts';
import { FindingActions } from './finding-actions.tsx';

type Zoned = { readonly zone: string; readonly nowMs: number };

/** The finding that leads, whole; others, open and closed, as a list below it. */
export function FindingPart(props: { readonly detail: GeneratorDetail; readonly onChanged: () => void } & Zoned) {
  const { detail, zone, nowMs } = props;
  const open = detail.findings.filter((finding) => finding.state !== 'closed');
  const awake = open.filter((finding) => finding.shelvedUntil === null);
  const lead = awake.find((finding) => finding.cause === detail.row?.cause) ?? awake[0] ?? open[0];
  const others = detail.findings.filter((finding) => finding !== lead);
  const isOff = detail.row?.dataState === 'out-of-service';
  return (
    <section aria-labelledby="finding-title">
      {isOff && lead === undefined ? (
        <>
          <h2 id="finding-title">Nothing is looked for</h2>
          <p>The registry has it out of service.</p>
        </>
      ) : lead === undefined ? (
        <>
          <h2 id="finding-title">Nothing found</h2>
          <p>{detail.row === null ? 'It has not been analysed yet.' : movedSentence(detail.row)} This is no proof that it is in order.</p>
        </>
      ) : (
        <Lead finding={lead} detail={detail} zone={zone} nowMs={nowMs} onChanged={props.onChanged} />
      )}
      {lead === undefined && !isOff && <Wait detail={detail} finding={undefined} zone={zone} nowMs={nowMs} />}
      {detail.cannotTell.length > 0 && (
        <>
          <h3>What can't be told here</h3>
          <ul>
            {detail.cannotTell.map((sentence) => (
              <li key={sentence}>{sentence}</li>
            ))}
          </ul>
        </>
      )}
      {others.length > 0 && (
        <details>
          <summary>
            {others.length} other {others.length === 1 ? 'finding' : 'findings'}, open and closed
          </summary>
          <ul class="others">
            {others.map((finding) => (
              <li key={finding.id}>
                <strong><a href={`/findings/${encodeURIComponent(finding.id)}`}>{causeSentence(finding)}</a></strong> {onsetSentence(finding, zone, nowMs)} <State finding={finding} zone={zone} nowMs={nowMs} />
                <FindingActions finding={finding} zone={zone} nowMs={nowMs} onChanged={props.onChanged} />
              </li>
            ))}
          </ul>
        </details>
      )}
    </section>
  );
}

export function State(props: { readonly finding: Finding } & Zoned) {
  const { finding, zone, nowMs } = props;
  if (finding.state === 'closed') return <span>Closed{finding.closedAt !== null && ` ${dateWords(Date.parse(finding.closedAt), zone, nowMs)}`}: {finding.closedReason === null ? 'no reason given' : CLOSING_WORDS[finding.closedReason]}.</span>;
  const shelved = finding.shelvedUntil === null ? '' : ` Shelved until ${timeWords(Date.parse(finding.shelvedUntil), zone)}.`;
  return (
    <span class={finding.state === 'new' && shelved === '' ? 'state-new' : ''}>
      State: {FINDING_STATE_WORDS[finding.state]}.{shelved}
    </span>
  );
}

/** How long it can wait, as the start of a sentence. */
function waitStart(wait: WaitWords): string {
  if (wait.until === 'not known') return 'How long it can wait is not known.';
  if (wait.due === 'none') return 'Can wait: no end in sight.';
  return `${wait.due === 'now' && wait.until !== 'at once' ? `Should not wait: ${wait.says}` : wait.says.charAt(0).toUpperCase() + wait.says.slice(1)}.`;
}

export function Wait(props: { readonly detail: GeneratorDetail; readonly finding: Finding | undefined } & Zoned) {
  const { detail, zone, nowMs } = props;
  if (detail.row === null) return null;
  const wait = waitWords({ ...detail.row, cause: props.finding?.cause ?? null, state: props.finding?.state ?? null }, zone, nowMs);
  const work = props.finding === undefined ? null : workWords({ state: props.finding.state, servedAt: servedSince(props.finding, detail.sinceVisit?.visitedAt ?? null) }, zone, nowMs);
  const range = conditionWords({ ...detail.row, cause: props.finding === undefined || isBeingChecked(props.finding) ? null : props.finding.cause }, zone, nowMs);
  const due = detail.row.dueBy === null ? '' : ` Service by days or hours is due ${dateWords(Date.parse(detail.row.dueBy), zone, nowMs)}.`;
  return (
    <p>
      <strong>{wait.until === 'being checked' ? '' : waitStart(wait)}{work !== null && ` ${work.charAt(0).toUpperCase()}${work.slice(1)}.`}</strong> {range}
      {due}
    </p>
  );
}

function Lead(props: { readonly finding: Finding; readonly detail: GeneratorDetail; readonly onChanged: () => void } & Zoned) {
  const { finding, detail, zone, nowMs } = props;
  const { speaksFor, speaksAgainst } = evidenceSides(finding);
  const notes = detail.actions.filter((action) => action.finding === finding.id);
  return (
    <>
      <h2 id="finding-title" class="lead-cause">
        {causeSentence(finding)}
      </h2>
      <p class="lead">
        {onsetSentence(finding, zone, nowMs)} {detail.row !== null && movedSentence(detail.row)} <State finding={finding} zone={zone} nowMs={nowMs} />
      </p>
      <Wait detail={detail} finding={finding} zone={zone} nowMs={nowMs} />
      <FindingActions key={finding.id} finding={finding} zone={zone} nowMs={nowMs} onChanged={props.onChanged} />
      <div class="sides">
        <EvidenceList title="What speaks for it" none="Nothing is written down." evidence={speaksFor} />
        <EvidenceList title="What speaks against it" none="Nothing heard so far." evidence={speaksAgainst} />
      </div>
      {finding.causes.length > 1 && (
        <details>
          <summary>Other causes that were weighed</summary>
          <ul>
            {finding.causes.map((one) => (
              <li key={one.cause}>
                {weighedWords(one.cause)} ({sureWords(one.probability)})
              </li>
            ))}
          </ul>
        </details>
      )}
      {finding.missingChannels.length > 0 && <p>To tell more, send: {finding.missingChannels.map(channelWords).join('; ')}.</p>}
      <p>
        <a href={`/findings/${encodeURIComponent(finding.id)}`}>The whole story of this finding</a>
      </p>
      {notes.length > 0 && (
        <details open={notes.length <= 3}>
          <summary>Who did what</summary>
          <ul>
            {notes.map((action) => (
              <li key={`${action.atMs} ${action.action}`}>
                {timeWords(action.atMs, zone)}, {action.by}: {ACTION_WORDS[action.action]}
                {action.untilMs !== undefined && ` until ${timeWords(action.untilMs, zone)}`}
                {action.reason !== undefined && `, ${CLOSING_WORDS[action.reason]}`}
                {action.note !== undefined && `: ${action.note}`}
              </li>
            ))}
          </ul>
        </details>
      )}
    </>
  );
}

const ACTION_WORDS = { acknowledge: 'acknowledged', shelve: 'shelved', unshelve: 'taken off the shelf', plan: 'planned', unplan: 'taken out of the plan', close: 'closed', reopen: 'reopened', note: 'note' } as const;

export function EvidenceList(props: { readonly title: string; readonly none: string; readonly evidence: Finding['evidence'] }) {
  return (
    <div>
      <h3>{props.title}</h3>
      {props.evidence.length === 0 ? (
        <p class="quiet">{props.none}</p>
      ) : (
        <ul>
          {props.evidence.map((one) => (
            <li key={one.says + one.for}>
              {sentenceInShownUnits(one.says)} {one.weight !== 0 && <span class="quiet">({weightWords(one.weight)})</span>}
            </li>
          ))}
        </ul>
      )}
    </div>
  );
}
