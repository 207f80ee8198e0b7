import type { GaugeUnit } from '../../views/gauge-units.ts';
import { allowedOf } from './time-allowed-here.ts';
import { type Draft, EMPTY_WORK, holdOf, keptValue } from './draft.ts';

function kept(values: Readonly<Record<string, string>>, unit: GaugeUnit): Record<string, number> {
  return Object.fromEntries(Object.entries(values).flatMap(([name, text]) => {
    const value = keptValue(name, text, unit);
    return value === null ? [] : [[name, Math.round(value * 1000) / 1000]];
  }));
}

function holdReadings(draft: Draft, generator: string): Record<string, number> {
  const risers = draft.cards[generator]?.detail.generator.risers ?? [];
  return Object.fromEntries(Object.entries(draft.work[generator]?.holds ?? {}).flatMap(([riser, hold]) => {
    const one = holdOf(hold, draft, risers.find((known) => known.id === riser)?.pipeLitres ?? null);
    if (one === undefined) return [];
    const tenth = (value: number): number => Math.round(value * 10) / 10;
    return [[`holdStartKPa.${riser}`, tenth(one.startKPa)], [`holdEndKPa.${riser}`, tenth(one.endKPa)], [`holdMin.${riser}`, tenth(one.minutes)], ...(one.result === undefined ? [] : [[`holdFallKPaPerHour.${riser}`, Math.round(one.result.fallKPaPerHour * 100) / 100]]), ...(one.result?.leakNLPerMin === null || one.result === undefined ? [] : [[`holdLeakNLPerMin.${riser}`, Math.round(one.result.leakNLPerMin * 100) / 100]])];
  }));
}

/** The body of POST /trips/:id/work. */
export function bodyOf(draft: Draft): Record<string, unknown> {
  const finishedAt = draft.signedAt === null ? null : (draft.finishedAt ?? draft.signedAt);
  const work = Object.fromEntries(draft.generators.map((generator) => {
    const one = draft.work[generator] ?? EMPTY_WORK;
    const number = (name: string, text: string): Record<string, number> => {
      const value = keptValue(name, text, draft.unit);
      return value === null ? {} : { [name]: Math.round(value * 1000) / 1000 };
    };
    const closedMs = one.steps['open-supply'] !== undefined && one.steps['close-supply'] !== undefined ? Date.parse(one.steps['open-supply'].doneAt) - Date.parse(one.steps['close-supply'].doneAt) : undefined;
    return [generator, {
      startedAt: draft.startedAt, finishedAt, steps: one.steps, replaced: one.replaced, note: one.note.trim(), valves: one.valves, adjusted: {},
      asFound: { ...one.elsewhere, ...kept(one.asFound, draft.unit), ...(one.steps['time-allowed'] === undefined ? {} : { timeAllowedMin: allowedOf(draft, generator).minutes }), ...number('pipingBeforeClosingKPa', one.pipingNow), ...number('lowPressureKPa', one.lowPressure), ...number('pipingFallKPaPerHour', one.fallPerHour), ...holdReadings(draft, generator) },
      asLeft: { ...kept(one.asLeft, draft.unit), ...(closedMs === undefined ? {} : { closedMin: Math.round(closedMs / 60_000) }) },
    }];
  }));
  return {
    site: draft.site, generators: draft.generators, state: draft.signedAt === null ? 'under-way' : 'recorded', procedure: draft.procedure, revision: draft.revision, by: draft.technician.trim() === '' ? 'not named' : draft.technician.trim(),
    technician: draft.plan?.technician ?? (draft.technician.trim() === '' ? null : draft.technician.trim()), plannedFor: draft.plan?.plannedFor ?? null, plannedTime: draft.plan?.plannedTime ?? null, findings: draft.plan?.findings ?? [],
    work, told: draft.told, signed: draft.signedAt === null ? null : { by: draft.signedBy, at: draft.signedAt }, performedAt: finishedAt,
  };
}
