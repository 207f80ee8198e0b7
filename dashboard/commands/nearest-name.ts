/** The name that a person most likely meant; `undefined` if none is near (more than a third of the letters differ). */
export function nearestName(written: string, names: readonly string[]): string | undefined {
  let best: { readonly name: string; readonly edits: number } | undefined;
  for (const name of names) {
    const edits = editsBetween(written, name);
    if (best === undefined || edits < best.edits) best = { name, edits };
  }
  return best !== undefined && best.edits <= Math.max(1, Math.floor(best.name.length / 3)) ? best.name : undefined;
}

/** Letters to insert, drop or replace to make one text of the other. @see Levenshtein 1966 */
function editsBetween(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, index) => index);
  for (let i = 1; i <= a.length; i += 1) {
    const next = [i];
    for (let j = 1; j <= b.length; j += 1) {
      const replaced = (row[j - 1] ?? 0) + (a[i - 1] === b[j - 1] ? 0 : 1);
      next.push(Math.min(replaced, (row[j] ?? 0) + 1, (next[j - 1] ?? 0) + 1));
    }
    row = next;
  }
  return row[b.length] ?? 0;
}
