import type { DayRow } from '../../shared/cycle.ts';
import { median } from '../change/robust.ts';

/** Days that are looked at, in groups of which the middle is taken. */
const GROUPS = 7;
const GROUP_DAYS = 3;
const LEAST_GROUPS = 3;
/**
 * A drop over the elements that grows faster than this, kPa in an hour of running, and by so much: dust takes a thousand hours for
 * 30 kPa, dirty or oily air a hundred or two, and a bowl that runs over tens. Common practice, no source.
 */
const FAST_KPA_PER_HOUR = 0.4;
const LEAST_KPA = 5;
/** What comes at once, by more than this share of it, is a gauge's, or a visit's. */
const AT_ONCE_SHARE = 0.6;

/** Whether the drop over the elements rises as water makes it rise: step by step within the last three weeks, from any day of them on. */
export function isFlooding(rows: readonly DayRow[]): boolean {
  const drops: { readonly index: number; readonly kPa: number }[] = [];
  for (let index = rows.length - 1; index >= 0 && drops.length < GROUPS * GROUP_DAYS; index -= 1) if (rows[index]!.elementDropKPa !== null) drops.unshift({ index, kPa: rows[index]!.elementDropKPa!.value });
  const groups: { readonly index: number; readonly kPa: number }[] = [];
  for (let end = drops.length; end >= GROUP_DAYS; end -= GROUP_DAYS) groups.unshift({ index: drops[end - GROUP_DAYS]!.index, kPa: median(drops.slice(end - GROUP_DAYS, end).map((day) => day.kPa))! });
  let runHours = 0;
  for (let from = groups.length - 1; from >= 0; from -= 1) {
    for (let index = groups[from]!.index; index < (groups[from + 1]?.index ?? rows.length); index += 1) runHours += rows[index]!.runS / 3600;
    const steps = groups.slice(from + 1).map((group, step) => group.kPa - groups[from + step]!.kPa);
    const rise = groups.at(-1)!.kPa - groups[from]!.kPa;
    if (groups.length - from >= LEAST_GROUPS && rise > LEAST_KPA && rise > FAST_KPA_PER_HOUR * runHours && Math.max(...steps) < AT_ONCE_SHARE * rise) return true;
  }
  return false;
}
