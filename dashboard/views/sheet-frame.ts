import type { IssuedRecord } from '../../shared/issued-record.ts';
import { escapeMarkup } from './number-words.ts';
import { timeWords } from './site-time.ts';

/*
 * Sheets are plain pages without script, made once and kept as bytes, so that what was issued is what is shown for good.
 */

/** Everything that comes from outside passes through here. */
export const text = escapeMarkup;

export type Cells = readonly (string | null)[];

/** A table with a head; an empty one is left out. `null` is shown as a dash. */
export function table(name: string, head: readonly string[], rows: readonly Cells[]): string {
  if (rows.length === 0) return '';
  const body = rows.map((row) => `<tr>${row.map((cell, index) => (index === 0 ? `<th scope="row">${text(cell ?? '–')}</th>` : `<td>${text(cell ?? '–')}</td>`)).join('')}</tr>`).join('');
  return `<table><caption>${text(name)}</caption><thead><tr>${head.map((cell) => `<th scope="col">${text(cell)}</th>`).join('')}</tr></thead><tbody>${body}</tbody></table>`;
}

/** Names and values in pairs; pairs without a value are left out. */
export function facts(pairs: readonly (readonly [name: string, value: string | null | undefined])[]): string {
  return `<dl>${pairs.flatMap(([name, value]) => (value === null || value === undefined || value === '' ? [] : [`<div><dt>${text(name)}</dt><dd>${text(value)}</dd></div>`])).join('')}</dl>`;
}

export function list(items: readonly string[]): string {
  return `<ul>${items.map((item) => `<li>${text(item)}</li>`).join('')}</ul>`;
}

/** A whole sheet: what it is, its number and revision, the body, and the words of care. */
export function sheet(record: IssuedRecord, params: { readonly simulated: boolean; readonly zone: string; readonly body: string; readonly care: readonly string[] }): string {
  const name = `${record.title}, record ${record.number}, revision ${record.revision}`;
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>${text(name)}</title><link rel="icon" href="/icon.svg" type="image/svg+xml"><link rel="stylesheet" href="/sheet.css"></head>
<body><header><p class="which">Record ${record.number}, revision ${record.revision}</p><h1>${text(record.title)}</h1>
<p>Issued ${text(timeWords(Date.parse(record.issuedAt), params.zone))} by ${text(record.issuedBy)}. Times are those of ${text(params.zone)}. Once issued this sheet is not changed; what is known better later is a new revision.</p>${params.simulated ? '<p class="simulated"><strong>Simulated readings.</strong> Every site and every name here is invented.</p>' : ''}</header>
<main>${params.body}</main>
<footer><h2>Words of care</h2>${list(params.care)}</footer></body></html>
`;
}
