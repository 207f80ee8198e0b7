import { type GatewayId, type GeneratorKey, isId, splitGeneratorKey } from './ids.ts';

const ROOT = 'lull/v1';
/** What ingest subscribes to: every reading and every presence message. */
export const READINGS_FILTER = `${ROOT}/+/+/readings`;
export const PRESENCE_FILTER = `${ROOT}/+/presence/+`;

/** What a topic of ours is about. */
export type Topic =
  | { readonly kind: 'readings'; readonly generator: GeneratorKey }
  | { readonly kind: 'presence'; readonly site: string; readonly gateway: GatewayId };

/** The topic on which a gateway publishes the readings of one generator. */
export function readingsTopic(key: GeneratorKey): string {
  return `${ROOT}/${key}/readings`;
}

/** The retained topic on which a gateway says whether it is there. */
export function presenceTopic(key: GeneratorKey, gateway: GatewayId): string {
  return `${ROOT}/${splitGeneratorKey(key).site}/presence/${gateway}`;
}

/** Read a topic; `undefined` if it is none of ours. */
export function parseTopic(topic: string): Topic | undefined {
  const [root, version, site, second, third, ...more] = topic.split('/');
  if (`${root}/${version}` !== ROOT || site === undefined || second === undefined || third === undefined || more.length > 0 || !isId(site)) return undefined;
  if (second === 'presence') return isId(third) ? { kind: 'presence', site, gateway: third as GatewayId } : undefined;
  return third === 'readings' && isId(second) ? { kind: 'readings', generator: `${site}/${second}` as GeneratorKey } : undefined;
}
