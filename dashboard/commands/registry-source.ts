import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { isDeepStrictEqual } from 'node:util';
import { ConfigError } from '../../shared/errors.ts';
import { type GeneratorKey, splitGeneratorKey } from '../../shared/ids.ts';
import { generatorsOf, parseRegistry, type RegisteredGenerator, type Registry, type RegistryChange, type SiteRecord, unclaimedGenerator } from '../../shared/registry.ts';
import { keptKeys, replaces } from '../../shared/registry-history.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';

/** The registry as it is now, kept in memory because ingest asks for it at every packet. */
export type CurrentRegistry = {
  sites(): readonly SiteRecord[];
  generators(): readonly RegisteredGenerator[];
  /** A generator that is heard but not registered is given with all defaults and `claimed: false`. */
  generator(key: GeneratorKey): RegisteredGenerator;
  /** Under which generator the readings are kept that arrive under this key. */
  keptAs(published: GeneratorKey): GeneratorKey;
  /** Take over a change that was recorded. */
  apply(change: RegistryChange): void;
};

/** Collect changes into the registry that they lead to: of each site the newest that is valid. */
export function currentRegistry(changes: readonly RegistryChange[]): CurrentRegistry {
  const newest = new Map<string, RegistryChange>();
  let byKey: Map<GeneratorKey, RegisteredGenerator> | undefined;
  let kept: ReadonlyMap<GeneratorKey, GeneratorKey> | undefined;
  const apply = (change: RegistryChange): void => {
    const known = newest.get(change.site.id);
    if (known !== undefined && !replaces(change, known)) return;
    newest.set(change.site.id, change);
    byKey = undefined;
    kept = undefined;
  };
  for (const change of changes) apply(change);
  const sites = (): SiteRecord[] => [...newest.values()].map((change) => change.site);
  const generators = (): Map<GeneratorKey, RegisteredGenerator> => (byKey ??= new Map(generatorsOf({ sites: sites() }).map((one) => [one.key, one])));
  return {
    sites,
    generators: () => [...generators().values()],
    generator: (key) => generators().get(key) ?? withKnownSite(unclaimedGenerator(key), newest.get(splitGeneratorKey(key).site)?.site),
    keptAs: (published) => (kept ??= keptKeys(sites())).get(published) ?? published,
    apply,
  };
}

/** A new generator at a known site has that site's calendar and name. */
function withKnownSite(unclaimed: RegisteredGenerator, site: SiteRecord | undefined): RegisteredGenerator {
  return site === undefined ? unclaimed : { ...unclaimed, site };
}

/** Read a registry file. @throws {ConfigError} that lists every problem in it. */
export function readRegistryFile(path: string): Registry {
  let text: string;
  try {
    text = readFileSync(path, 'utf8');
  } catch (error) {
    throw new ConfigError(`can't read the registry ${path}: ${error instanceof Error ? error.message : String(error)}`, { cause: error });
  }
  const parsed = parseRegistry(text);
  if ('registry' in parsed) return parsed.registry;
  throw new ConfigError([`the registry ${path} has problems:`, ...parsed.problems.map((problem) => `  ${problem.where}: ${problem.says}`)].join('\n'));
}

/**
 * The changes that turn the recorded registry into the one of a file. The first record of a site holds for all its
 * past, later ones from now on. A site that is missing in the file stays as it is: a line lost in an editor must not
 * take a generator off the list; `outOfService: true` does.
 */
export function differences(current: CurrentRegistry, wanted: Registry, nowMs: number, by: string): RegistryChange[] {
  const known = new Map(current.sites().map((site) => [site.id, site]));
  return wanted.sites
    .filter((site) => !isDeepStrictEqual(site, known.get(site.id)))
    .map((site) => ({ validFromMs: known.has(site.id) ? nowMs : 0, recordedAtMs: nowMs, by, site }));
}

/** Where it is kept how each site stood in the file when it was last taken over. */
const FILE_SCOPE = 'registry-file';

/**
 * Record the differences of a file and give the registry after them. A site that stands in the file as it did when the file
 * was last taken over is left alone: what people changed on the Settings page since then stays.
 */
export async function takeRegistry(records: RecordStore, wanted: Registry | undefined, nowMs: number, by: string): Promise<{ readonly current: CurrentRegistry; readonly changes: readonly RegistryChange[] }> {
  const current = currentRegistry(await records.registryChanges());
  const taken = await records.savedSettings(FILE_SCOPE);
  const edited = (wanted?.sites ?? []).filter((site) => taken.get(site.id) !== markOf(site));
  const changes = differences(current, { sites: edited }, nowMs, by);
  for (const change of changes) {
    await records.recordRegistryChange(change);
    current.apply(change);
  }
  for (const site of edited) await records.saveSetting(FILE_SCOPE, site.id, markOf(site));
  return { current, changes };
}

function markOf(site: SiteRecord): string {
  return createHash('sha256').update(JSON.stringify(site)).digest('hex');
}
