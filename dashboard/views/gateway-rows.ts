import type { GatewayRow } from '../../shared/api.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import type { PresenceEvent } from '../../shared/log-event.ts';

/** What the page says of one generator behind a gateway. */
export type GatewayGenerator = GatewayRow['generators'][number];

/**
 * One row for each gateway that said that it is there, with its generators; those that no gateway names stand in one row
 * for each site, without a gateway. In order of site, then gateway. A generator that two gateways name stands in both.
 */
export function gatewayRows(presence: readonly PresenceEvent[], generators: ReadonlyMap<GeneratorKey, GatewayGenerator>, siteName: (site: string) => string): GatewayRow[] {
  const named = new Set(presence.flatMap((event) => event.generators));
  const rows: GatewayRow[] = presence.map((event) => ({
    site: event.site,
    siteName: siteName(event.site),
    gateway: event.gateway,
    online: event.online,
    changedAt: new Date(event.atMs).toISOString(),
    generators: event.generators.flatMap((key) => generators.get(key) ?? []),
  }));
  const alone = new Map<string, GatewayGenerator[]>();
  for (const [key, generator] of generators) {
    if (named.has(key)) continue;
    const site = key.slice(0, key.indexOf('/'));
    alone.set(site, [...(alone.get(site) ?? []), generator]);
  }
  for (const [site, list] of alone) rows.push({ site, siteName: siteName(site), gateway: null, online: null, changedAt: null, generators: list });
  return rows.sort((a, b) => compare(a.site, b.site) || compare(a.gateway ?? '\uFFFF', b.gateway ?? '\uFFFF'));
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
