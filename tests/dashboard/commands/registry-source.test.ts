// Issue: sites.yaml is read at start, and differences become changes of the registry with validFrom and recordedAt.
import { expect, test } from 'vitest';
import { currentRegistry, differences, takeRegistry } from '../../../dashboard/commands/registry-source.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { parseRegistry, type Registry } from '../../../shared/registry.ts';
import { openMemoryRecords } from '../../../shared/store/memory-records.ts';

function registry(text: string): Registry {
  const parsed = parseRegistry(text);
  if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
  return parsed.registry;
}

const FIRST = registry('sites: [{ id: quay-7, generators: [{ id: gen-1 }] }, { id: mill-2, generators: [{ id: gen-1 }] }]');
const LATER = registry('sites: [{ id: quay-7, generators: [{ id: gen-1, tankLitres: 115 }] }]');

test('differences() writes a new site for all its past, and a changed one from now on', () => {
  const first = differences(currentRegistry([]), FIRST, 1000, 'sites.yaml');
  expect(first.map((change) => [change.site.id, change.validFromMs, change.recordedAtMs])).toEqual([['quay-7', 0, 1000], ['mill-2', 0, 1000]]);
  const later = differences(currentRegistry(first), LATER, 2000, 'sites.yaml');
  expect(later.map((change) => [change.site.id, change.validFromMs])).toEqual([['quay-7', 2000]]);
  expect(differences(currentRegistry([...first, ...later]), LATER, 3000, 'sites.yaml')).toEqual([]);
});

test('currentRegistry() takes the newest of each site in whatever order changes come, and knows who is unclaimed', () => {
  const first = differences(currentRegistry([]), FIRST, 1000, 'x');
  const later = differences(currentRegistry(first), LATER, 2000, 'x');
  for (const changes of [[...first, ...later], [...later, ...first]]) {
    const current = currentRegistry(changes);
    expect(current.generator('quay-7/gen-1' as GeneratorKey).generator.tankLitres).toBe(115);
    expect(current.generators()).toHaveLength(2);
    expect(current.generator('quay-7/gen-9' as GeneratorKey)).toMatchObject({ claimed: false, site: { id: 'quay-7' }, generator: { id: 'gen-9' } });
    expect(current.generator('nowhere/gen-1' as GeneratorKey)).toMatchObject({ claimed: false, site: { timeZone: 'UTC' } });
  }
});

test('takeRegistry() takes over what was edited in the file since last time, and leaves what people changed on the page', async () => {
  const records = openMemoryRecords();
  await takeRegistry(records, FIRST, 1000, 'sites.yaml');
  const onPage = registry('sites: [{ id: quay-7, name: Quay seven, generators: [{ id: gen-1 }] }]').sites[0]!;
  await records.recordRegistryChange({ validFromMs: 2000, recordedAtMs: 2000, by: 'Ana', site: onPage });
  const again = await takeRegistry(records, FIRST, 3000, 'sites.yaml');
  expect(again.changes).toEqual([]);
  expect(again.current.sites().find((site) => site.id === 'quay-7')?.name).toBe('Quay seven');
  const edited = await takeRegistry(records, LATER, 4000, 'sites.yaml');
  expect(edited.changes.map((change) => change.site.id)).toEqual(['quay-7']);
  expect(edited.current.generator('quay-7/gen-1' as GeneratorKey).generator.tankLitres).toBe(115);
  expect((await takeRegistry(records, undefined, 5000, '')).changes).toEqual([]);
});
