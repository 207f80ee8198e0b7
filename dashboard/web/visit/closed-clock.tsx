import { useEffect, useRef, useState } from 'preact/hooks';
import { clockWords } from '../../views/site-time.ts';
import type { Draft } from './draft.ts';
import { closedSince } from './time-allowed-here.ts';
import { visitNowMs } from './visit-clock.ts';

const WARN_MS = 5 * 60_000;

/** The clock that runs while the supply is closed; always in sight, and it goes on after a restart of the phone. */
export function ClosedClock(props: { readonly draft: Draft }) {
  const { draft } = props;
  const [nowMs, setNowMs] = useState(visitNowMs);
  const closed = draft.generators.flatMap((generator) => {
    const since = closedSince(draft, generator);
    return since === undefined ? [] : [{ generator, ...since }];
  });
  const running = closed.length > 0;
  useEffect(() => {
    if (!running) return undefined;
    const timer = window.setInterval(() => setNowMs(visitNowMs()), 1000);
    return () => window.clearInterval(timer);
  }, [running]);
  const first = closed.reduce<(typeof closed)[number] | undefined>((least, one) => (least === undefined || one.untilMs < least.untilMs ? one : least), undefined);
  const leftMs = first === undefined ? Infinity : first.untilMs - Math.max(nowMs, first.fromMs);
  const level = leftMs <= 0 ? 'over' : leftMs <= WARN_MS ? 'soon' : 'fine';
  useShake(running ? level : 'fine');
  useScreenOn(running);
  if (first === undefined) return null;
  const zone = draft.cards[first.generator]?.detail.site.timeZone ?? 'UTC';
  const minutes = Math.floor(Math.abs(leftMs) / 60_000);
  const seconds = Math.floor((Math.abs(leftMs) % 60_000) / 1000);
  return (
    <div class={`closed-clock closed-${level}`}>
      <p>
        {first.what} closed{draft.generators.length > 1 && ` at ${first.generator}`} since {clockWords(first.fromMs, zone)}
      </p>
      <p class="closed-left">
        <strong>
          {minutes}:{String(seconds).padStart(2, '0')}
        </strong>{' '}
        {leftMs <= 0 ? 'over the time allowed' : `left, until ${clockWords(first.untilMs, zone)}`}
      </p>
      <p role="alert">{level === 'over' ? 'Time is up. Open the supply, or say so to the coordinator.' : level === 'soon' ? 'Less than 5 minutes left.' : ''}</p>
    </div>
  );
}

/** A phone in a pocket shakes when the time gets short and when it is up. */
function useShake(level: 'fine' | 'soon' | 'over'): void {
  const last = useRef(level);
  useEffect(() => {
    if (last.current !== level && level !== 'fine' && 'vibrate' in navigator) navigator.vibrate(level === 'over' ? [600, 200, 600, 200, 600] : [300, 200, 300]);
    last.current = level;
  }, [level]);
}

/** While something is closed the screen stays on, where the browser can: a clock in the dark is none. */
function useScreenOn(wanted: boolean): void {
  useEffect(() => {
    if (!wanted || !('wakeLock' in navigator)) return undefined;
    let held: WakeLockSentinel | undefined;
    let gone = false;
    const hold = (): void => {
      if (document.visibilityState !== 'visible') return;
      navigator.wakeLock.request('screen').then(
        (lock) => (gone ? void lock.release() : (held = lock)),
        () => undefined,
      );
    };
    hold();
    document.addEventListener('visibilitychange', hold);
    return () => {
      gone = true;
      document.removeEventListener('visibilitychange', hold);
      void held?.release();
    };
  }, [wanted]);
}
