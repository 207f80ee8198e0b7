import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join, relative, sep } from 'node:path';
import { fileURLToPath } from 'node:url';

/** The checkout that these tests stand in. */
export const ROOT = fileURLToPath(new URL('../../', import.meta.url));
/** The rooms of the house; each holds code. */
export const ROOMS = ['shared', 'simulator', 'ingest', 'analysis', 'dashboard'];

export type SourceFile = { readonly path: string; readonly text: string; /** Without comments. */ readonly code: string };
export type Import = { readonly from: string; readonly typeOnly: boolean };

/** Paths of all files below a folder, from the root of the checkout, with `/`. */
export function filesBelow(folder: string): string[] {
  if (!existsSync(join(ROOT, folder))) return [];
  return readdirSync(join(ROOT, folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => relative(ROOT, join(entry.parentPath, entry.name)).split(sep).join('/'))
    .sort();
}

/** Every TypeScript file of the product (`rooms`) or below other folders. */
export function sourceFiles(folders: readonly string[] = ROOMS): SourceFile[] {
  return folders
    .flatMap(filesBelow)
    .filter((path) => /\.tsx?$/.test(path))
    .map((path) => {
      const text = readFileSync(join(ROOT, path), 'utf8');
      return { path, text, code: withoutComments(text) };
    });
}

/** Comments out, strings kept: `//` inside a string is told by the quote or colon before it. */
export function withoutComments(text: string): string {
  return text.replaceAll(/\/\*[\s\S]*?\*\//g, '').replaceAll(/(^|[\s;{}(),])\/\/.*$/gm, '$1');
}

/** What a file imports, in whatever form, and whether the import vanishes when types are erased. */
export function importsOf(code: string): Import[] {
  const found: Import[] = [];
  for (const match of code.matchAll(/^[ \t]*(import|export)\s+(type\s+)?([^'";]*?)\s*from\s*['"]([^'"]+)['"]/gm)) {
    const names = (match[3] ?? '').replaceAll(/[{}\s]+/g, ' ').trim();
    const eachIsType = names !== '' && names.split(',').every((name) => name.trim() === '' || name.trim().startsWith('type '));
    found.push({ from: match[4] ?? '', typeOnly: match[2] !== undefined || eachIsType });
  }
  for (const match of code.matchAll(/^[ \t]*import\s*['"]([^'"]+)['"]/gm)) found.push({ from: match[1] ?? '', typeOnly: false });
  for (const match of code.matchAll(/\bimport\(\s*['"]([^'"]+)['"]\s*\)/g)) found.push({ from: match[1] ?? '', typeOnly: false });
  return found;
}
