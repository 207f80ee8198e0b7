/** A site of the registry, a generator at it, a gateway: lower-case letters, digits and hyphens, 1..64 of them. */
export type SiteId = string & { readonly brand: 'SiteId' };
export type GeneratorId = string & { readonly brand: 'GeneratorId' };
export type GatewayId = string & { readonly brand: 'GatewayId' };
/** A generator among all sites: `<site>/<generator>`. */
export type GeneratorKey = string & { readonly brand: 'GeneratorKey' };

const ID_PATTERN = /^[a-z0-9-]{1,64}$/;
/** What an id may look like, for messages to people. */
export const ID_RULE = '1 to 64 of a-z, 0-9 and "-"';
/** Topic words that can't be a generator's id. */
const RESERVED_IDS: ReadonlySet<string> = new Set(['presence']);

/** Whether a text can be the id of a site, a generator or a gateway. */
export function isId(text: string): boolean {
  return ID_PATTERN.test(text) && !RESERVED_IDS.has(text);
}

/** Join a site and a generator into one key. */
export function generatorKey(site: SiteId, generator: GeneratorId): GeneratorKey {
  return `${site}/${generator}` as GeneratorKey;
}

/** Read a key written as `<site>/<generator>`; `undefined` if it isn't one. */
export function parseGeneratorKey(text: string): GeneratorKey | undefined {
  const slash = text.indexOf('/');
  return slash > 0 && isId(text.slice(0, slash)) && isId(text.slice(slash + 1)) ? (text as GeneratorKey) : undefined;
}

/** The two ids of a key. */
export function splitGeneratorKey(key: GeneratorKey): { readonly site: SiteId; readonly generator: GeneratorId } {
  const slash = key.indexOf('/');
  return { site: key.slice(0, slash) as SiteId, generator: key.slice(slash + 1) as GeneratorId };
}
