import type { Cause } from '../../shared/finding.ts';
import type { Departures } from '../plant/departures.ts';
import type { FaultScenario, Severity } from '../scenario.ts';

/** What one severity means, in the fault's own measure and in words. */
export type SeverityMeaning = { readonly size: number; readonly says: string };

/** One way in which a fault shows itself. `size` grows with severity; `apply` adds it to what departs from good order. */
export type FaultVariant = {
  /** False for one that is written by hand alone: what random worlds draw from stays as it was, so that the same seed goes on making the same world. */
  readonly drawn?: false;
  readonly measure: string;
  readonly severities: Readonly<Record<Severity, SeverityMeaning>>;
  readonly apply: (dep: Departures, size: number, fault: FaultScenario) => void;
};

/** A cause with its variants; the first one is meant when a scenario names none. */
export type FaultKind = { readonly cause: Cause; readonly variants: Readonly<Record<string, FaultVariant>> };

/** The four severities, from barely visible to urgent. */
export function severities(barely: SeverityMeaning, plain: SeverityMeaning, marked: SeverityMeaning, urgent: SeverityMeaning): Readonly<Record<Severity, SeverityMeaning>> {
  return { barely, plain, marked, urgent };
}

export function means(size: number, says: string): SeverityMeaning {
  return { size, says };
}
