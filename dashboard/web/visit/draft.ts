import type { GeneratorDetail } from '../../../shared/api.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import type { Part } from '../../../shared/registry.ts';
import type { Visit } from '../../../shared/visit.ts';
import { type GaugeUnit, kPaFromGauge, typedNumber } from '../../views/gauge-units.ts';
import { inKeptUnit } from '../../views/shown-units.ts';
import { type NormalHere, normalHere } from '../../views/normal-here.ts';
import { holdTestResult } from '../../views/time-allowed.ts';
import { RETURN_READINGS, VISIT_READINGS } from '../../views/visit-readings.ts';

/** What the page shows without signal: fetched when there was some, and kept with the draft. */
export type Card = { readonly detail: GeneratorDetail; readonly normal: NormalHere; readonly keptAtMs: number };
export type Position = 'open' | 'shut';
export type HoldDraft = { readonly start?: string; readonly end?: string; readonly startC?: string; readonly endC?: string; readonly startedAt?: string | undefined; readonly endedAt?: string | undefined };
/** One generator's work as it is typed: numbers stay text until they are sent, so that nothing half typed is lost. */
export type WorkDraft = {
  readonly steps: Readonly<Record<string, { readonly doneAt: string }>>;
  readonly asFound: Readonly<Record<string, string>>;
  readonly asLeft: Readonly<Record<string, string>>;
  readonly pipingNow: string;
  readonly lowPressure: string;
  readonly fallPerHour: string;
  readonly valves: Readonly<Record<string, { readonly found: Position | null; readonly left: Position | null }>>;
  /** Valves that stand here and not in the registry. */
  readonly moreValves: readonly { readonly name: string; readonly normal: Position }[];
  readonly replaced: readonly Part[];
  readonly holds: Readonly<Record<string, HoldDraft>>;
  readonly note: string;
  /** What was worked out or read on another phone, as found; sent again as it was. */
  readonly elsewhere?: Readonly<Record<string, number>>;
};
export type Told = Visit['told'][number];
/** A visit as it lives on this phone. `seq` grows with every change; `sentSeq` is the one that the server has. */
export type Draft = {
  readonly id: string;
  readonly site: string;
  readonly generators: readonly string[];
  readonly plan: Visit | null;
  readonly revision: number;
  readonly procedure: Visit['procedure'];
  readonly cards: Readonly<Record<string, Card>>;
  readonly work: Readonly<Record<string, WorkDraft>>;
  readonly told: readonly Told[];
  /** Names that are being typed, by who and what, until the tap that sets the time. */
  readonly telling?: Readonly<Record<string, string>>;
  readonly technician: string;
  readonly unit: GaugeUnit;
  /** In which pipe temperatures are read; °C where it isn't said. */
  readonly degrees?: '°C' | '°F';
  readonly startedAt: string | null;
  /** When it was done; set at the signature, or typed by whoever enters a visit later. */
  readonly finishedAt: string | null;
  readonly signedBy: string;
  /** Set when it was signed on this phone; then it is sent as recorded until the server has it. */
  readonly signedAt: string | null;
  readonly recordedAt: string | null;
  readonly seq: number;
  readonly sentSeq: number;
  readonly savedAtMs: number;
  /** The server's no, for the person at the phone. */
  readonly refused: string | null;
};
export type PhotoDraft = { readonly id: string; readonly visit: string; readonly generator: string; readonly at: string; readonly says: string; readonly jpegBase64: string; readonly sent: boolean; /** The server's no; then it stays on this phone. */ readonly refused?: string };

export const EMPTY_WORK: WorkDraft = { steps: {}, asFound: {}, asLeft: {}, pipingNow: '', lowPressure: '', fallPerHour: '', valves: {}, moreValves: [], replaced: [], holds: {}, note: '' };

export function newDraft(params: { readonly id: string; readonly site: string; readonly generators: readonly string[]; readonly plan: Visit | null; readonly technician: string; readonly unit: GaugeUnit; readonly degrees: '°C' | '°F'; readonly nowMs: number }): Draft {
  const { plan } = params;
  return {
    id: params.id, site: params.site, generators: params.generators, plan, revision: plan?.revision ?? 0, procedure: plan?.procedure ?? 'service', cards: {}, work: Object.fromEntries(params.generators.map((generator) => [generator, EMPTY_WORK])),
    told: [], technician: params.technician, unit: params.unit, degrees: params.degrees, startedAt: null, finishedAt: null, signedBy: '', signedAt: null, recordedAt: null, seq: 1, sentSeq: 1, savedAtMs: params.nowMs, refused: null,
  };
}

export function cardOf(detail: GeneratorDetail, days: readonly DayRow[], nowMs: number): Card {
  return { detail, normal: normalHere(days), keptAtMs: nowMs };
}

/** Valves of the registry, then those that were added on the spot. */
export function valvesOf(draft: Draft, generator: string): readonly { readonly name: string; readonly normal: Position }[] {
  const registered = draft.cards[generator]?.detail.generator.valves ?? [];
  return [...registered, ...(draft.work[generator]?.moreValves ?? []).filter((one) => !registered.some((known) => known.name === one.name))];
}

const UNITS = new Map([...VISIT_READINGS, ...RETURN_READINGS].map((one) => [one.name, one.unit]));
/** A typed reading in the unit in which it is kept; `null` when it is empty or no number. */
export function keptValue(name: string, text: string | undefined, unit: GaugeUnit): number | null {
  const value = typedNumber(text);
  if (value === null || value === undefined) return null;
  return (UNITS.get(name.split('.')[0] ?? '') ?? 'gauge') === 'gauge' ? kPaFromGauge(value, unit) : value;
}

/** A hold test as typed, worked out; `undefined` while it isn't one yet. */
export function holdOf(hold: HoldDraft | undefined, { unit, degrees = '°C' }: Pick<Draft, 'unit' | 'degrees'>, pipeLitres: number | null): { readonly minutes: number; readonly startKPa: number; readonly endKPa: number; readonly result: ReturnType<typeof holdTestResult> } | undefined {
  const [start, end] = [typedNumber(hold?.start), typedNumber(hold?.end)];
  if (hold?.startedAt === undefined || hold.endedAt === undefined || start === null || start === undefined || end === null || end === undefined) return undefined;
  const celsius = (text: string | undefined): number | null => {
    const value = typedNumber(text);
    return value === null || value === undefined ? null : inKeptUnit(value, '°C', { pressure: unit, temperature: degrees });
  };
  const minutes = Math.max(0, Date.parse(hold.endedAt) - Date.parse(hold.startedAt)) / 60_000;
  const [startKPa, endKPa] = [kPaFromGauge(start, unit), kPaFromGauge(end, unit)];
  return { minutes, startKPa, endKPa, result: holdTestResult({ startKPa, endKPa, minutes, startC: celsius(hold.startC), endC: celsius(hold.endC), pipeLitres }) };
}
