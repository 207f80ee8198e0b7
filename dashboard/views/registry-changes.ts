import type { SiteRecord } from '../../shared/registry.ts';
import type { FieldChange } from '../../shared/settings-api.ts';

/**
 * What differs between two writings of a site, field by field in the order of the form; lists of generators, risers and valves
 * are matched by id or name. `before` undefined: the site is new, and every field that says something is listed.
 */
export function siteFieldChanges(before: SiteRecord | undefined, after: SiteRecord): FieldChange[] {
  const old = before === undefined ? new Map<string, string>() : flat(before);
  const now = flat(after);
  const changes: FieldChange[] = [];
  for (const [where, to] of now) {
    const from = old.get(where) ?? null;
    if (from !== to) changes.push({ where, from, to });
  }
  for (const [where, from] of old) if (!now.has(where)) changes.push({ where, from, to: null });
  return changes;
}

/** Every value of a record under the path to it, as text. What is empty is not there. */
function flat(site: SiteRecord): Map<string, string> {
  const into = new Map<string, string>();
  walk(site, '', into);
  return into;
}

function walk(value: unknown, path: string, into: Map<string, string>): void {
  if (Array.isArray(value)) {
    for (const [index, item] of value.entries()) walk(item, joined(path, nameOf(item) ?? String(index + 1)), into);
  } else if (typeof value === 'object' && value !== null) {
    for (const [name, inner] of Object.entries(value)) walk(inner, name === 'generators' && path === '' ? '' : joined(path, name), into);
  } else if (value !== undefined && value !== '' && !(path.endsWith(' › id') || path === '')) into.set(path, textOf(value));
  else if (path.endsWith(' › id')) into.set(path.slice(0, -' › id'.length), 'listed');
}

function nameOf(item: unknown): string | undefined {
  if (typeof item !== 'object' || item === null) return undefined;
  const { id, name } = item as { id?: unknown; name?: unknown };
  return typeof id === 'string' ? id : typeof name === 'string' ? name : undefined;
}

function joined(path: string, name: string): string {
  return path === '' ? name : `${path} › ${name}`;
}

function textOf(value: unknown): string {
  return typeof value === 'boolean' ? (value ? 'yes' : 'no') : String(value);
}

/** A change in one line: `gen-1 › cutOutKPa: 700 → 720`. */
export function fieldChangeWords({ where, from, to }: FieldChange): string {
  if (from === null) return to === 'listed' ? `${where}: added` : `${where}: ${to ?? ''}`;
  return to === null ? `${where}: taken out (was ${from})` : `${where}: ${from} → ${to}`;
}
