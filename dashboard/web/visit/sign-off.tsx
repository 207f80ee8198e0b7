import { useState } from 'preact/hooks';
import { msOfWallTime, timeWords, wallTime } from '../../views/site-time.ts';
import { stepsOf } from '../../views/visit-steps.ts';
import { rememberName } from '../who.ts';
import { closedSince } from './time-allowed-here.ts';
import type { Draft } from './draft.ts';
import { visitNowMs } from './visit-clock.ts';

/** The end of a visit: what is still open in words, a name as signature, and where it is: on this phone, or with the server. */
export function SignOff(props: { readonly draft: Draft; readonly sending: boolean; readonly change: (make: (draft: Draft) => Draft, soon?: boolean) => void; readonly send: () => void }) {
  const { draft, change } = props;
  const zone = Object.values(draft.cards)[0]?.detail.site.timeZone ?? 'UTC';
  const open = draft.generators.flatMap((generator) => stepsOf(draft.procedure).filter((step) => step.part !== 'looks' && draft.work[generator]?.steps[step.id] === undefined).map((step) => (draft.generators.length > 1 ? `${generator}: ${step.title}` : step.title)));
  const closed = draft.generators.filter((generator) => closedSince(draft, generator) !== undefined);
  const signed = draft.signedAt !== null;
  const changed = signed && draft.seq !== draft.sentSeq && draft.recordedAt !== null;
  const sign = (): void => {
    const by = draft.signedBy.trim() === '' ? draft.technician.trim() : draft.signedBy.trim();
    if (by === '') return;
    rememberName(by);
    const at = new Date(visitNowMs()).toISOString();
    change((old) => ({ ...old, signedBy: by, technician: old.technician === '' ? by : old.technician, signedAt: at, finishedAt: old.finishedAt ?? at }), true);
  };
  return (
    <section aria-labelledby="sign-title" class="sign-off">
      <h2 id="sign-title">Record the visit</h2>
      {open.length > 0 && !signed && (
        <div class="problem">
          Not ticked yet:
          <ul>
            {open.map((title) => (
              <li key={title}>{title}</li>
            ))}
          </ul>
        </div>
      )}
      {closed.length > 0 && <p class="problem">Something is still closed: {closed.map((generator) => closedSince(draft, generator)?.what).join(', ')}.</p>}
      <Times draft={draft} zone={zone} change={change} />
      <label class="typed typed-note">
        <span>Your name, as signature</span>
        <input value={draft.signedBy === '' ? draft.technician : draft.signedBy} maxLength={80} autocomplete="name" onInput={(event) => {
          const signedBy = event.currentTarget.value;
          change((old) => ({ ...old, signedBy }));
        }} />
      </label>
      <button type="button" class="primary big" disabled={closed.length > 0 || (draft.signedBy.trim() === '' && draft.technician.trim() === '')} onClick={sign}>
        {signed ? 'Sign again, as corrected' : 'Sign and record'}
      </button>
      <div role="status">
        {signed && draft.recordedAt === null && draft.refused === null && <p class="done">Signed and kept on this phone. {props.sending ? 'Sending…' : 'It is sent as soon as there is signal.'}</p>}
        {draft.recordedAt !== null && !changed && <p class="done">The server has it: recorded {timeWords(Date.parse(draft.recordedAt), zone)}.</p>}
        {changed && draft.refused === null && <p class="done">Changed since it was recorded; the correction is sent as soon as there is signal.</p>}
        {draft.refused !== null && (
          <p class="problem">
            The server says no: {draft.refused}{' '}
            <button type="button" onClick={props.send}>
              Try again
            </button>
          </p>
        )}
      </div>
      {draft.recordedAt !== null && (
        <p>
          <a class="button" href={`/records?site=${encodeURIComponent(draft.site)}&visit=${encodeURIComponent(draft.id)}`}>
            Issue the visit sheet
          </a>
        </p>
      )}
    </section>
  );
}

/** For who writes it down later: when it was done stays apart from when it became known. */
function Times(props: { readonly draft: Draft; readonly zone: string; readonly change: (make: (draft: Draft) => Draft) => void }) {
  const { draft, zone, change } = props;
  const [said, setSaid] = useState('');
  const set = (which: 'startedAt' | 'finishedAt', wall: string): void => {
    const ms = msOfWallTime(wall, zone);
    if (ms === undefined || ms > visitNowMs() + 60_000) {
      setSaid('Choose a time that is past.');
      return;
    }
    setSaid('');
    change((old) => ({ ...old, [which]: new Date(ms).toISOString() }));
  };
  return (
    <details class="more">
      <summary>Entered later? Say when it was done</summary>
      <label class="typed">
        <span>Began ({zone})</span>
        <input type="datetime-local" value={draft.startedAt === null ? '' : wallTime(Date.parse(draft.startedAt), zone)} onChange={(event) => set('startedAt', event.currentTarget.value)} />
      </label>
      <label class="typed">
        <span>Ended ({zone})</span>
        <input type="datetime-local" value={draft.finishedAt === null ? '' : wallTime(Date.parse(draft.finishedAt), zone)} onChange={(event) => set('finishedAt', event.currentTarget.value)} />
      </label>
      {said !== '' && <p class="problem">{said}</p>}
    </details>
  );
}
