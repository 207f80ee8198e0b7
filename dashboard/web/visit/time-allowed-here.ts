import { gaugeWords, kPaFromGauge, typedNumber } from '../../views/gauge-units.ts';
import { fallFromDemand, timeAllowedClosed, type TimeAllowed } from '../../views/time-allowed.ts';
import { type Draft, EMPTY_WORK } from './draft.ts';

export type Allowed = TimeAllowed & { readonly from: string };

/** Time allowed from what was typed, else from what is known of the riser and of the demand here. */
export function allowedOf(draft: Draft, generator: string): Allowed {
  const work = draft.work[generator] ?? EMPTY_WORK;
  const card = draft.cards[generator];
  const typed = (text: string): number | null => {
    const value = typedNumber(text);
    return value === null || value === undefined ? null : kPaFromGauge(value, draft.unit);
  };
  const risers = card?.detail.generator.risers ?? [];
  const lowest = (values: readonly (number | undefined)[]): number | null => values.reduce<number | null>((least, value) => (value === undefined ? least : least === null ? value : Math.min(least, value)), null);
  const highest = (values: readonly (number | undefined)[]): number | null => values.reduce<number | null>((most, value) => (value === undefined ? most : most === null ? value : Math.max(most, value)), null);
  const lowPressureKPa = typed(work.lowPressure) ?? highest(risers.map((riser) => riser.lowPressureKPa));
  const measured = typed(work.fallPerHour);
  // All that is drawn here, lost in the smallest riser alone: the fastest that any of them can fall.
  const guessed = fallFromDemand(card?.normal.demandNLPerMin ?? null, lowest(risers.map((riser) => riser.pipeLitres)));
  // What analysis measured in this piping stands before what only follows from the demand.
  const urgency = card?.detail.urgency ?? null;
  const known = urgency?.fallFrom === 'measured' ? urgency.pipingFallKPaPerHour : null;
  const usable = measured === null || measured < 0 ? null : measured;
  const fallKPaPerHour = usable ?? (known === null || known < 0 ? guessed : known);
  const pipingKPa = typed(work.pipingNow);
  const words = fallKPaPerHour === null ? '' : `${gaugeWords(fallKPaPerHour, draft.unit)} an hour`;
  const says = fallKPaPerHour === null ? 'the fall of the piping is not known' : usable !== null ? `${words}, as typed` : fallKPaPerHour === known ? `${words}, as measured here` : `at most ${words}, if all that is drawn here leaked from the piping`;
  return { ...timeAllowedClosed({ pipingKPa, lowPressureKPa, fallKPaPerHour }), from: `${pipingKPa === null ? 'piping not read yet' : `piping ${gaugeWords(pipingKPa, draft.unit)}`}; ${lowPressureKPa === null ? 'low-pressure signal not known' : `low-pressure signal ${gaugeWords(lowPressureKPa, draft.unit)}`}; ${says}` };
}

/** Since when the supply or a riser is closed, and until when it may be; `undefined` while all is open. Steps and hold tests are what is kept. */
export function closedSince(draft: Draft, generator: string): { readonly what: string; readonly fromMs: number; readonly untilMs: number } | undefined {
  const work = draft.work[generator] ?? EMPTY_WORK;
  const closed = work.steps['close-supply'];
  const supply = closed === undefined || work.steps['open-supply'] !== undefined ? [] : [{ what: 'Supply', fromMs: Date.parse(closed.doneAt) }];
  const holds = Object.entries(work.holds).flatMap(([riser, hold]) => (hold.startedAt === undefined || hold.endedAt !== undefined ? [] : [{ what: riser, fromMs: Date.parse(hold.startedAt) }]));
  const first = [...supply, ...holds].sort((a, b) => a.fromMs - b.fromMs)[0];
  return first && { ...first, untilMs: first.fromMs + allowedOf(draft, generator).minutes * 60_000 };
}
