// Issue: the house of the design, section 3: who may import whom. The rooms are told by their folders.
import { posix } from 'node:path';
import { expect, test } from 'vitest';
import { importsOf, sourceFiles } from './sources.ts';

/** A room, and the rooms that its files may import besides itself; `types:` before one means types only. */
const TABLE: readonly (readonly [room: string, mayImport: readonly string[]])[] = [
  ['shared/store', ['shared']],
  // Recordings are read and written for every room; they know the stores' ports by type only.
  ['shared/recording', ['shared', 'types:shared/store']],
  ['shared', []],
  ['simulator', ['shared']],
  ['ingest', ['shared', 'shared/store', 'shared/recording']],
  ['analysis/change', []],
  ['analysis/cycles', ['shared', 'analysis/change']],
  ['analysis/causes', ['shared', 'analysis/change']],
  ['analysis/forecast', ['shared', 'analysis/change']],
  ['analysis/verify', ['shared', 'analysis/change']],
  ['analysis/scoring', ['shared']],
  ['analysis', ['shared', 'shared/store', 'analysis/change', 'analysis/cycles', 'analysis/causes', 'analysis/forecast', 'analysis/verify']],
  ['dashboard/views', ['types:shared']],
  ['dashboard/planning', ['types:shared']],
  ['dashboard/notices', ['shared', 'shared/store']],
  ['dashboard/server', ['shared', 'shared/store', 'dashboard/views', 'dashboard/planning', 'dashboard/notices']],
  ['dashboard/web', ['types:shared', 'dashboard/views']],
  ['dashboard/commands', ['shared', 'shared/store', 'shared/recording', 'simulator', 'ingest', 'analysis', 'analysis/scoring', 'dashboard/server', 'dashboard/views', 'dashboard/planning', 'dashboard/notices']],
];

function roomOf(path: string): string | undefined {
  return TABLE.map(([room]) => room).find((room) => path.startsWith(`${room}/`));
}

/** What breaks the table, one line each. */
function breaches(files: readonly { readonly path: string; readonly code: string }[]): string[] {
  return files.flatMap((file) => {
    const room = roomOf(file.path);
    if (room === undefined) return [`${file.path} stands in no room of the table`];
    const allowed = new Set(TABLE.find(([name]) => name === room)?.[1]);
    return importsOf(file.code).flatMap(({ from, typeOnly }) => {
      if (!from.startsWith('.')) return [];
      const target = posix.normalize(posix.join(posix.dirname(file.path), from));
      const targetRoom = roomOf(target);
      if (targetRoom === room || (targetRoom !== undefined && (allowed.has(targetRoom) || (typeOnly && allowed.has(`types:${targetRoom}`))))) return [];
      return [`${file.path} imports ${target}${typeOnly ? ' (types)' : ''}`];
    });
  });
}

test('every import of the product obeys the import table', () => {
  expect(breaches(sourceFiles())).toEqual([]);
});

test('the import table is checked: a breach is seen in each form of an import', () => {
  const file = (path: string, code: string) => breaches([{ path, code }]);
  expect(file('shared/ids.ts', "import { a } from '../ingest/decode.ts';")).toHaveLength(1);
  expect(file('analysis/change/cusum.ts', "import type { Clock } from '../../shared/time.ts';")).toHaveLength(1);
  expect(file('simulator/sites.ts', "const x = await import('../analysis/analysis.ts');")).toHaveLength(1);
  expect(file('dashboard/views/rows.ts', "import { type A, b } from '../../shared/time.ts';")).toHaveLength(1);
  expect(file('dashboard/views/rows.ts', "import { type A, type B } from '../../shared/time.ts';")).toEqual([]);
  expect(file('ingest/decode.ts', "import {\n  a,\n  b,\n} from '../shared/store/record-store.ts';")).toEqual([]);
  expect(file('ingest/decode.ts', "export * from '../dashboard/server/server.ts';")).toHaveLength(1);
});

test('relative imports name the file with its ending, so that what runs is what stands there', () => {
  const bare = sourceFiles().flatMap((file) => importsOf(file.code).filter(({ from }) => from.startsWith('.') && !/\.(tsx?|css|json|svg)$/.test(from)).map(({ from }) => `${file.path}: ${from}`));
  expect(bare).toEqual([]);
});
