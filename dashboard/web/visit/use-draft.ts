import { useCallback, useEffect, useRef, useState } from 'preact/hooks';
import type { GeneratorDetail } from '../../../shared/api.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import type { Visit } from '../../../shared/visit.ts';
import { GAUGE_UNITS, type GaugeUnit } from '../../views/gauge-units.ts';
import { shownUnits } from '../../views/shown-units.ts';
import { get, getAll, RequestError } from '../api.ts';
import { rememberedName } from '../who.ts';
import { cardOf, type Draft, EMPTY_WORK, newDraft, type WorkDraft } from './draft.ts';
import { keepDraft, loadDraft } from './draft-store.ts';
import { sendVisit } from './send-visit.ts';
import { visitNowMs } from './visit-clock.ts';
import { askToSync } from './work-offline.ts';

const DAY_MS = 86_400_000;
const UNIT = 'lull.gaugeUnit';
/** Ticks are sent at once, typing a minute after it ended: every sending is a revision that is kept for good. */
const SOON_MS = 400;
const LATER_MS = 60_000;
/** While something waits for signal it is tried this often. */
const TRY_AGAIN_MS = 15_000;

export function rememberedUnit(): GaugeUnit {
  const kept = ((): string | null => {
    try {
      return window.localStorage.getItem(UNIT);
    } catch {
      return null;
    }
  })();
  return GAUGE_UNITS.find((unit) => unit === kept) ?? shownUnits().pressure;
}

export function rememberUnit(unit: GaugeUnit): void {
  try {
    window.localStorage.setItem(UNIT, unit);
  } catch {
    // Asked again next time.
  }
}

/** Cards of a visit's generators, as far as the server answers now. */
async function withCards(draft: Draft): Promise<Draft> {
  const nowMs = visitNowMs();
  const cards = { ...draft.cards };
  for (const generator of draft.generators) {
    const path = `/generators/${encodeURIComponent(draft.site)}/${encodeURIComponent(generator)}`;
    const [detail, days] = await Promise.all([get<GeneratorDetail>(path), getAll<DayRow>('/days', { site: draft.site, generator, from: new Date(nowMs - 45 * DAY_MS).toISOString() })]);
    cards[generator] = cardOf(detail, days, nowMs);
  }
  return { ...draft, cards };
}

/** A planned visit with its cards, kept on this phone for when there is no signal. A draft that was begun keeps what was typed. */
export async function keepForLater(plan: Visit): Promise<void> {
  const known = await loadDraft(plan.id);
  if (known !== undefined && known.startedAt !== null) return;
  await keepDraft(await withCards(newDraft({ id: plan.id, site: plan.site, generators: plan.generators, plan, technician: rememberedName(), unit: rememberedUnit(), degrees: shownUnits().temperature, nowMs: visitNowMs() })));
}

export type OpenDraft = {
  readonly draft: Draft | undefined;
  readonly problem: string | undefined;
  readonly sending: boolean;
  /** Change the draft; it is on the phone's disk before anything else happens. `soon`: worth sending at once. */
  readonly change: (make: (draft: Draft) => Draft, soon?: boolean) => void;
  readonly changeWork: (generator: string, make: (work: WorkDraft) => WorkDraft, soon?: boolean) => void;
  readonly send: () => void;
};

/** A visit by its id: from this phone, else from the server; `start` makes one without a plan. */
export function useDraft(id: string, start: { readonly site: string; readonly generator: string } | undefined): OpenDraft {
  const [draft, setDraft] = useState<Draft | undefined>(undefined);
  const [problem, setProblem] = useState<string | undefined>(undefined);
  const [sending, setSending] = useState(false);
  const newest = useRef<Draft | undefined>(undefined);
  const timer = useRef<number | undefined>(undefined);
  const busy = useRef(false);

  const keep = useCallback((next: Draft): void => {
    newest.current = next;
    setDraft(next);
    keepDraft(next).catch(() => setProblem('This phone could not keep the last change. Write it down on paper as well.'));
  }, []);

  const send = useCallback((): void => {
    window.clearTimeout(timer.current);
    const run = async (): Promise<void> => {
      const now = newest.current;
      if (now === undefined || busy.current || now.startedAt === null || now.seq === now.sentSeq) return;
      busy.current = true;
      setSending(true);
      const sent = await sendVisit(now);
      busy.current = false;
      setSending(false);
      const latest = newest.current ?? now;
      if (sent.kind === 'kept') keep({ ...latest, sentSeq: now.seq, revision: sent.visit.revision, plan: sent.visit, recordedAt: sent.visit.recordedAt, refused: null });
      else if (sent.kind === 'refused') keep({ ...latest, refused: sent.says });
      if (sent.kind === 'unreached') askToSync();
      if (sent.kind === 'unreached' || (sent.kind === 'kept' && latest.seq !== now.seq)) timer.current = window.setTimeout(send, TRY_AGAIN_MS);
    };
    void run();
  }, [keep]);

  const change = useCallback((make: (draft: Draft) => Draft, soon = false): void => {
    const now = newest.current;
    if (now === undefined) return;
    const made = make(now);
    keep({ ...made, seq: now.seq + 1, savedAtMs: visitNowMs(), refused: null });
    // The page may be shut before it tries.
    if (!navigator.onLine && made.startedAt !== null) askToSync();
    window.clearTimeout(timer.current);
    timer.current = window.setTimeout(send, soon ? SOON_MS : LATER_MS);
  }, [keep, send]);
  const changeWork = useCallback((generator: string, make: (work: WorkDraft) => WorkDraft, soon = false): void => change((old) => ({ ...old, work: { ...old.work, [generator]: make(old.work[generator] ?? EMPTY_WORK) } }), soon), [change]);

  useEffect(() => {
    let gone = false;
    const open = async (): Promise<void> => {
      const known = await loadDraft(id).catch(() => undefined);
      if (known !== undefined && !gone) keep(known);
      try {
        const opened = known ?? (await fromServer(id, start));
        if (!gone && known === undefined) keep(opened);
        // Fresh normal figures while there is signal; what was typed is not touched.
        const { cards } = await withCards(opened);
        if (!gone && newest.current !== undefined) keep({ ...newest.current, cards });
      } catch (error) {
        if (!gone && known === undefined) setProblem(error instanceof RequestError ? error.message : String(error));
      }
      if (!gone) send();
    };
    void open();
    window.addEventListener('online', send);
    return () => {
      gone = true;
      window.removeEventListener('online', send);
      window.clearTimeout(timer.current);
    };
  }, [id]);

  return { draft, problem, sending, change, changeWork, send };
}

async function fromServer(id: string, start: { readonly site: string; readonly generator: string } | undefined): Promise<Draft> {
  const common = { id, technician: rememberedName(), unit: rememberedUnit(), degrees: shownUnits().temperature, nowMs: visitNowMs() };
  if (start !== undefined) return newDraft({ ...common, site: start.site, generators: [start.generator], plan: null });
  const plan = await get<Visit>(`/trips/${encodeURIComponent(id)}`);
  return fromPlan(newDraft({ ...common, site: plan.site, generators: plan.generators, plan }), plan);
}

/** A visit that was begun on another phone, or is to be corrected: what the server has of it, as it would have been typed in kPa. */
function fromPlan(draft: Draft, plan: Visit): Draft {
  if (Object.keys(plan.work).length === 0) return draft;
  const other = /^(hold|closedMin|timeAllowed|lowPressure|pipingFall|pipingBefore)/;
  const text = (values: Readonly<Record<string, number>>): Record<string, string> => Object.fromEntries(Object.entries(values).filter(([name]) => !other.test(name)).map(([name, value]) => [name, String(value)]));
  const elsewhere = (values: Readonly<Record<string, number>>): Record<string, number> => Object.fromEntries(Object.entries(values).filter(([name]) => other.test(name)));
  const work = Object.fromEntries(Object.entries(plan.work).map(([generator, one]): [string, WorkDraft] => [generator, { ...EMPTY_WORK, steps: one.steps, asFound: text(one.asFound), asLeft: text(one.asLeft), valves: one.valves, replaced: one.replaced, note: one.note, elsewhere: elsewhere(one.asFound) }]));
  const [first] = Object.values(plan.work);
  return { ...draft, unit: 'kPa', work: { ...draft.work, ...work }, told: plan.told, startedAt: first?.startedAt ?? null, finishedAt: first?.finishedAt ?? null, signedBy: plan.signed?.by ?? '', signedAt: plan.signed?.at ?? null, recordedAt: plan.recordedAt };
}
