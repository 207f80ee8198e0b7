import { useEffect, useState } from 'preact/hooks';
import { gaugeWords } from '../../views/gauge-units.ts';
import { LEAST_HOLD_MIN } from '../../views/time-allowed.ts';
import { clockWords } from '../../views/site-time.ts';
import { type Draft, EMPTY_WORK, type HoldDraft, holdOf, type WorkDraft } from './draft.ts';
import { TypedNumber } from './typed-readings.tsx';
import { visitNowMs } from './visit-clock.ts';

/** Hold tests, one riser at a time: close, read, wait, read, open. The clock is the page's, so that nobody counts. */
export function HoldTests(props: { readonly draft: Draft; readonly generator: string; readonly mayClose: boolean; readonly change: (make: (work: WorkDraft) => WorkDraft, soon?: boolean) => void }) {
  const { draft, generator } = props;
  const work = draft.work[generator] ?? EMPTY_WORK;
  const risers = draft.cards[generator]?.detail.generator.risers ?? [];
  const names = risers.length > 0 ? risers.map((riser) => riser.id) : ['riser-1'];
  const held = Object.keys(work.holds).find((riser) => work.holds[riser]?.startedAt !== undefined && work.holds[riser]?.endedAt === undefined);
  const results = names.flatMap((riser) => {
    const hold = holdOf(work.holds[riser], draft, risers.find((one) => one.id === riser)?.pipeLitres ?? null);
    return hold?.result === undefined ? [] : [{ riser, fall: hold.result.fallKPaPerHour }];
  });
  const worst = results.reduce<(typeof results)[number] | undefined>((most, one) => (most === undefined || one.fall > most.fall ? one : most), undefined);
  return (
    <div class="holds">
      {names.map((riser) => (
        <Hold key={riser} riser={riser} hold={work.holds[riser] ?? {}} litres={risers.find((one) => one.id === riser)?.pipeLitres ?? null} draft={draft} zone={draft.cards[generator]?.detail.site.timeZone ?? 'UTC'} mayClose={props.mayClose && held === undefined} change={(changes, soon) => props.change((old) => ({ ...old, holds: { ...old.holds, [riser]: { ...old.holds[riser], ...changes } } }), soon)} />
      ))}
      {results.length > 1 && worst !== undefined && <p class="done">Of the risers tested, {worst.riser} falls fastest. An indication, never a test result.</p>}
    </div>
  );
}

function Hold(props: { readonly riser: string; readonly hold: HoldDraft; readonly litres: number | null; readonly draft: Draft; readonly zone: string; readonly mayClose: boolean; readonly change: (changes: HoldDraft, soon?: boolean) => void }) {
  const { riser, hold, change } = props;
  const { unit, degrees = '°C' } = props.draft;
  const [nowMs, setNowMs] = useState(visitNowMs);
  const running = hold.startedAt !== undefined && hold.endedAt === undefined;
  useEffect(() => {
    if (!running) return undefined;
    const timer = window.setInterval(() => setNowMs(visitNowMs()), 1000);
    return () => window.clearInterval(timer);
  }, [running]);
  const done = holdOf(hold, props.draft, props.litres);
  const heldMin = hold.startedAt === undefined ? 0 : Math.max(0, nowMs - Date.parse(hold.startedAt)) / 60_000;
  return (
    <fieldset class="hold">
      <legend>
        <strong>{riser}</strong>
      </legend>
      <div class="typed-list">
        <TypedNumber words="at the start" unit={unit} value={hold.start ?? ''} change={(start) => change({ start })} />
        <TypedNumber words="pipe at the start" unit={degrees} hint="if you can read it" value={hold.startC ?? ''} change={(startC) => change({ startC })} />
      </div>
      {hold.startedAt === undefined ? (
        <button type="button" class="primary" disabled={!props.mayClose} onClick={() => change({ startedAt: new Date(visitNowMs()).toISOString() }, true)}>
          {riser} is closed: start the hold
        </button>
      ) : (
        <p>
          Closed at {clockWords(Date.parse(hold.startedAt), props.zone)}
          {running && `, holding for ${Math.floor(heldMin)} min${heldMin < LEAST_HOLD_MIN ? `; at least ${LEAST_HOLD_MIN}, better 30` : ''}`}
        </p>
      )}
      {hold.startedAt !== undefined && (
        <>
          <div class="typed-list">
            <TypedNumber words="at the end" unit={unit} value={hold.end ?? ''} change={(end) => change({ end })} />
            <TypedNumber words="pipe at the end" unit={degrees} hint="if you can read it" value={hold.endC ?? ''} change={(endC) => change({ endC })} />
          </div>
          {running && (
            <button type="button" class="primary" onClick={() => change({ endedAt: new Date(visitNowMs()).toISOString() }, true)}>
              Read, and {riser} is open again
            </button>
          )}
        </>
      )}
      {hold.endedAt !== undefined && (
        <button type="button" onClick={() => change({ start: '', end: '', startC: '', endC: '', startedAt: undefined, endedAt: undefined }, true)}>
          Hold {riser} once more
        </button>
      )}
      {done !== undefined && (
        <p class="done">
          {done.result === undefined ? `Held ${Math.round(done.minutes)} min: too short to say anything.` : `Falls ${gaugeWords(done.result.fallKPaPerHour, unit)} an hour over ${Math.round(done.minutes)} min${done.result.temperatureTaken ? ', cooling taken out' : ', cooling not known'}${done.result.leakNLPerMin === null ? '' : `; about ${done.result.leakNLPerMin.toFixed(1)} NL/min`}. An indication, never a test result.`}
        </p>
      )}
    </fieldset>
  );
}
