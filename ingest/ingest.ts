import type { Packet, ReleaseAnswer, Status } from '../shared/api.ts';
import type { Channel } from '../shared/channels.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { QuarantineReason } from '../shared/quarantine.ts';
import type { ReadingBatch } from '../shared/reading-batch.ts';
import { type Desk, type DeskParams, openDesk } from './desk.ts';
import { type EmbeddedParams, startEmbeddedBroker } from './embedded-broker.ts';
import type { Heard } from './heard.ts';
import { type Session, type SessionParams, startSession } from './session.ts';

export type IngestSource = ({ readonly kind: 'embedded' } & EmbeddedParams) | ({ readonly kind: 'broker' } & SessionParams);
export type IngestParams = DeskParams & { readonly source: IngestSource };

export type IngestStatus = Pick<Status, 'brokerConnected' | 'brokerSays' | 'storeWritable' | 'storeSays' | 'queueLength' | 'readingsPerMinute'> & {
  /** Receipt of the newest reading that is kept. */
  readonly lastReadingMs: number | null;
  readonly quarantinedSinceStart: number;
};

/** Readings on their way from MQTT into the stores. */
export type Ingest = {
  status(): IngestStatus;
  /** Port of the embedded broker; `null` with a broker of someone else. */
  readonly port: number | null;
  /** The last 20, newest first. */
  recentPackets(generator: GeneratorKey): readonly Packet[];
  /** The unit that a channel was last sent in. */
  sentUnit(generator: GeneratorKey, channel: Channel): string | null;
  /** When a generator was last heard and how often it reports; `undefined` if never. See `isSilent`. */
  heard(generator: GeneratorKey): Heard | undefined;
  /** Take from quarantine what can be taken with what is known now. Rejects when ingest is stopped meanwhile. */
  release(ids: readonly number[], by: string): Promise<ReleaseAnswer>;
  /** Take what a person read off a meter as if a gateway had sent it; gives why it was refused, empty when it is on disk. */
  typeIn(topic: string, payload: string): Promise<readonly { readonly reason: QuarantineReason; readonly says: string }[]>;
  /** Hear of every batch after its commit; gives the function that ends it. */
  onCommitted(listener: (batch: ReadingBatch) => void): () => void;
  /**
   * Everything received before this is committed and was handed to `onEvent`, and nothing will be stamped earlier:
   * a tick at or before it has all its readings.
   */
  committedThroughMs(): number;
  /** Within 5 s. What isn't committed is not acknowledged and comes again. */
  stop(): Promise<void>;
};

/**
 * Take readings from MQTT into the stores: from a broker of someone else, or from gateways that connect to ours.
 * @throws {ConfigError} if the embedded broker can't listen as configured.
 * @throws {StoreError} if the stores can't be read.
 */
export async function startIngest(params: IngestParams): Promise<Ingest> {
  const { source, log } = params;
  const desk = await openDesk(params);
  const line = source.kind === 'broker' ? withoutPort(startSession(source, desk, log)) : await startEmbeddedBroker(source, desk, log);
  const { recentPackets, sentUnit, heard, release, onCommitted, committedThroughMs } = desk;
  return {
    recentPackets,
    sentUnit,
    heard,
    release,
    onCommitted,
    committedThroughMs,
    typeIn: (topic, payload) => typeIn(desk, topic, payload),
    port: line.port,
    status: () => ({ ...line.status(), ...desk.status() }),
    async stop() {
      // The desk first: what is being committed is still acknowledged.
      await desk.stop();
      await line.stop();
    },
  };
}

/** A packet of our own, with no broker between; what became of it is read from the packets remembered last. */
function typeIn(desk: Desk, topic: string, payload: string): ReturnType<Ingest['typeIn']> {
  return new Promise((resolve, reject) => {
    desk.take({ topic, payload: Buffer.from(payload), dup: false }, (error) => {
      if (error !== undefined) return reject(error);
      const generator = desk.keptUnder(topic);
      const packet = generator === undefined ? undefined : desk.recentPackets(generator).find((one) => one.topic === topic && one.payload === payload);
      resolve(packet?.refused ?? [{ reason: 'unknown-topic', says: 'the generator has no topic that could be taken' }]);
    });
  });
}

function withoutPort(session: Session): Session & { readonly port: null } {
  return { ...session, port: null };
}
