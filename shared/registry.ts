import { parse as parseYaml } from 'yaml';
import { z } from 'zod';
import { generatorKey, type GeneratorId, type GeneratorKey, ID_RULE, isId, type SiteId } from './ids.ts';
import { isTimeZone } from './time.ts';

const id = z.string().refine(isId, { error: `must be ${ID_RULE} and not "presence"` });
const date = z.string().regex(/^\d{4}-\d{2}-\d{2}$/, 'must be a date such as 2026-03-02');
const positive = z.number().positive();

/** What can be replaced at a visit; each restarts only its own baseline and its own hours. */
export const PARTS = ['particulate-element', 'coalescing-element', 'carbon-element', 'intake-element', 'drain', 'o-rings', 'membrane', 'oxygen-sensor', 'check-valve', 'regulator', 'pressure-switch', 'compressor'] as const;
export type Part = (typeof PARTS)[number];
/** The parts that are elements, in the order in which the air meets them. */
export const ELEMENTS = ['intake-element', 'particulate-element', 'coalescing-element', 'carbon-element'] as const satisfies readonly Part[];

const channelSettings = z.strictObject({
  absolute: z.boolean().optional(),
  percentAs: z.enum(['ratio', 'per-cent']).optional(),
});

const limits = z.strictObject({
  dutyRatio: z.number().gt(0).max(1).default(0.5),
  elementDropKPa: positive.default(70),
  deliveryShare: z.number().gt(0).max(1).default(0.7),
});

const riser = z.strictObject({
  id,
  setKPa: positive.optional(),
  lowPressureKPa: positive.optional(),
  pipeLitres: positive.optional(),
  purge: z.enum(['none', 'fixed', 'timed']).default('none'),
  bypass: z.enum(['none', 'manual', 'automatic']).default('none'),
});

const valve = z.strictObject({ name: z.string().min(1).max(120), normal: z.enum(['open', 'shut']) });

export const generatorSchema = z.strictObject({
  id,
  name: z.string().max(120).optional(),
  kind: z.enum(['membrane', 'sieve']).default('membrane'),
  layout: z.enum(['direct', 'air-receiver']).default('direct'),
  tankLitres: positive.optional(),
  cutInKPa: positive.optional(),
  cutOutKPa: positive.optional(),
  ratedNLPerMin: positive.optional(),
  compressorKW: positive.optional(),
  nitrogenLimit: z.number().gt(0.5).max(1).default(0.98),
  nitrogenAt: z.enum(['product', 'tank', 'piping']).default('product'),
  commissionedAt: date.optional(),
  fitted: z.partialRecord(z.enum(PARTS), date).default({}),
  serviceEvery: z.strictObject({ days: positive.optional(), runHours: positive.optional() }).default({ days: 365, runHours: 2000 }),
  /** Up to 100 days: a meter that is read by hand reports too. */
  reportEveryS: z.number().min(1).max(8_640_000).optional(),
  /** The id under which its gateway publishes, where that is another than its own: gateways were exchanged, or one was renamed. */
  publishesAs: id.optional(),
  channels: z.record(z.string(), channelSettings).default({}),
  limits: limits.prefault({}),
  risers: z.array(riser).max(32).default([]),
  valves: z.array(valve).max(100).default([]),
  outOfService: z.boolean().default(false),
});

export const siteSchema = z.strictObject({
  id,
  name: z.string().max(120).optional(),
  timeZone: z.string().refine(isTimeZone, { error: 'must be an IANA time zone such as Europe/Lisbon' }).default('UTC'),
  area: z.string().max(120).optional(),
  address: z.string().max(300).optional(),
  access: z.string().max(500).optional(),
  elevationM: z.number().min(-500).max(6000).default(0),
  generators: z.array(generatorSchema).max(500).default([]),
});

const registrySchema = z.strictObject({ sites: z.array(siteSchema).max(20_000) });

export type GeneratorRecord = z.infer<typeof generatorSchema>;
export type SiteRecord = z.infer<typeof siteSchema>;
export type Registry = z.infer<typeof registrySchema>;

/** A site as it is from `validFrom` on, known to us since `recordedAtMs`. The whole site is written at each change. */
export type RegistryChange = { readonly validFromMs: number; readonly recordedAtMs: number; readonly by: string; readonly site: SiteRecord };

/** A generator together with its site, as most code wants it. */
export type RegisteredGenerator = { readonly key: GeneratorKey; readonly site: SiteRecord; readonly generator: GeneratorRecord; readonly claimed: boolean };

/** What a person wrote wrongly, and where. */
export type Problem = { readonly where: string; readonly says: string };

/** Read `sites.yaml` or `sites.json`. Every problem is listed, with the path to the value. */
export function parseRegistry(text: string): { readonly registry: Registry } | { readonly problems: readonly Problem[] } {
  let raw: unknown;
  try {
    raw = parseYaml(text) ?? { sites: [] };
  } catch (error) {
    return { problems: [{ where: 'file', says: `is no YAML or JSON: ${error instanceof Error ? error.message : String(error)}` }] };
  }
  const parsed = registrySchema.safeParse(raw);
  if (!parsed.success) return { problems: problemsOf(parsed.error) };
  const twice = repeatedIds(parsed.data);
  return twice.length > 0 ? { problems: twice } : { registry: parsed.data };
}

/** Zod's issues as lines for people: where, and what must change. */
export function problemsOf(error: z.ZodError): Problem[] {
  return error.issues.map((issue) => ({ where: issue.path.map(String).join('.') || 'top level', says: issue.message }));
}

function repeatedIds(registry: Registry): Problem[] {
  const problems: Problem[] = [];
  const sites = new Set<string>();
  for (const site of registry.sites) {
    if (sites.has(site.id)) problems.push({ where: `site ${site.id}`, says: 'is listed twice' });
    sites.add(site.id);
    const generators = new Set<string>();
    for (const generator of site.generators) {
      if (generators.has(generator.id)) problems.push({ where: `site ${site.id}, generator ${generator.id}`, says: 'is listed twice' });
      generators.add(generator.id);
    }
    problems.push(...publishedTwice(site));
  }
  return problems;
}

/** Two generators of a site whose readings arrive under one id would be mixed for good. */
export function publishedTwice(site: SiteRecord): Problem[] {
  const taken = new Map<string, string>();
  return site.generators.flatMap((generator) => {
    const published = generator.publishesAs ?? generator.id;
    const other = taken.get(published);
    taken.set(published, generator.id);
    return other === undefined ? [] : [{ where: `site ${site.id}, generator ${generator.id}`, says: `publishes as "${published}", and so does ${other}` }];
  });
}

/** Every generator of a registry with its site. */
export function generatorsOf(registry: Registry): RegisteredGenerator[] {
  return registry.sites.flatMap((site) => site.generators.map((generator) => ({ key: generatorKey(site.id as SiteId, generator.id as GeneratorId), site, generator, claimed: true })));
}

/** A generator that is heard but not registered: all defaults, calendar days in UTC. */
export function unclaimedGenerator(key: GeneratorKey): RegisteredGenerator {
  const [site = '', generator = ''] = key.split('/');
  return { key, site: siteSchema.parse({ id: site }), generator: generatorSchema.parse({ id: generator }), claimed: false };
}
