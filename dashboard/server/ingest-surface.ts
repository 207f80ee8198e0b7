import type { Packet, ReleaseAnswer } from '../../shared/api.ts';
import type { Channel } from '../../shared/channels.ts';
import type { GeneratorKey } from '../../shared/ids.ts';

/** When a generator was last heard, and how often it reports: as registered, else as learnt from its gaps. */
export type Heard = { readonly lastHeardMs: number; readonly reportEveryS: number };

/** What the pages need to know from ingest; handed in, so that neither room imports the other. */
export type IngestSurface = {
  /** The last packets of a generator, newest first; at most 20. */
  recentPackets(generator: GeneratorKey): readonly Packet[];
  /** The unit in which a channel was sent last; `null` when it named none or wasn't heard since the start. */
  sentUnit(generator: GeneratorKey, channel: Channel): string | null;
  heard(generator: GeneratorKey): Heard | undefined;
  /** Take what a person read off a meter as if a gateway had sent it; gives why it was refused, empty when it is kept. */
  typeIn(topic: string, payload: string): Promise<readonly { readonly says: string }[]>;
  /** Try again to take what waits in quarantine. */
  release(ids: readonly number[], by: string): Promise<ReleaseAnswer>;
};
