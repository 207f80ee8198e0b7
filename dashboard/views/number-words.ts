import { inShownUnit, shownUnit } from './shown-units.ts';

/* Numbers as people read them: always with their unit, a real minus sign, and no more digits than they can carry. */

const MINUS = '−';
/** A space that doesn't break between a number and its unit. */
export const NBSP = '\u00a0';

function digits(value: number, places: number): string {
  const text = Math.abs(value).toFixed(places);
  return Number(text) !== 0 && value < 0 ? MINUS + text : text;
}

/** 0.183 → `18 %`; below 10 % one digit more, since a tight system runs 1–5 %. */
export function percentWords(ratio: number): string {
  const percent = ratio * 100;
  return `${digits(percent, Math.abs(percent) < 9.95 ? 1 : 0)}${NBSP}%`;
}

/** A change as after/before − 1: `+62 %`, `−4 %`, `as before` within half a per cent. */
export function changeWords(change: number): string {
  const percent = Math.round(change * 100);
  if (percent === 0) return 'as before';
  return `${percent > 0 ? '+' : MINUS}${Math.abs(percent)}${NBSP}%`;
}

/** A length of run or rest: `45 s`, `6 min`, `3.2 h`, `2.1 days`. */
export function durationWords(seconds: number): string {
  if (seconds < 90) return `${Math.round(seconds)}${NBSP}s`;
  const minutes = seconds / 60;
  if (minutes < 9.95) return `${minutes.toFixed(1)}${NBSP}min`;
  if (minutes < 120) return `${Math.round(minutes)}${NBSP}min`;
  const hours = minutes / 60;
  return hours < 48 ? `${hours.toFixed(1)}${NBSP}h` : `${(hours / 24).toFixed(1)}${NBSP}days`;
}

/** A value of a channel with its unit, pressures and temperatures in the one that was chosen: ratios as per cent, hour meters in hours, states in words. */
export function valueWords(value: number, unit: string): string {
  if (unit === '0/1') return value >= 0.5 ? 'yes' : 'no';
  if (unit === 'ratio') return `${digits(value * 100, 1)}${NBSP}%`;
  if (unit === 's') return `${group(value / 3600)}${NBSP}h`;
  if (unit === 'count') return group(value);
  if (unit === '%') return `${digits(value, 0)}${NBSP}%`;
  const shown = inShownUnit(value, unit);
  const size = Math.abs(shown);
  return `${digits(shown, size < 10 ? 2 : size < 100 ? 1 : 0)}${NBSP}${shownUnit(unit)}`;
}

/** 12345.6 → `12,346`. */
export function group(value: number): string {
  return Math.round(value).toLocaleString('en-GB').replace('-', MINUS);
}

/** Bytes on a disk: `48 GB`. */
export function bytesWords(bytes: number): string {
  const steps = ['B', 'kB', 'MB', 'GB', 'TB'];
  let size = bytes;
  let step = 0;
  while (size >= 1000 && step < steps.length - 1) {
    size /= 1000;
    step += 1;
  }
  return `${size < 10 && step > 0 ? size.toFixed(1) : Math.round(size)}${NBSP}${steps[step]}`;
}

/** Text that may stand inside markup or an attribute. */
export function escapeMarkup(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;').replaceAll("'", '&#39;');
}
