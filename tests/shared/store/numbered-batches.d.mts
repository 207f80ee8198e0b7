import type { Cycle, DayRow } from '../../../shared/cycle.ts';
import type { Reading } from '../../../shared/reading-batch.ts';
export const ROWS_PER_BATCH: number;
export function readingsOfBatch(number: number): Reading[];
export function monthsPassed(number: number): number;
export function dayOf(number: number): DayRow;
export function cycleOf(number: number, index: number): Cycle;
