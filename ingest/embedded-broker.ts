import { type AddressInfo, createServer, type Server } from 'node:net';
import { Aedes, type Client } from 'aedes';
import { ConfigError } from '../shared/errors.ts';
import type { Log } from '../shared/log.ts';
import { parseTopic } from '../shared/topics.ts';
import type { Desk } from './desk.ts';
import { limitFrames } from './frame-limit.ts';
import { type Gateways, knowsSecret } from './gateways.ts';
import { MAX_PAYLOAD_BYTES } from './packet.ts';
import { createWaitingRoom } from './waiting-room.ts';

export type EmbeddedParams = { readonly host: string; readonly port: number; readonly gateways?: Gateways };
export type EmbeddedBroker = { readonly port: number; status(): { readonly brokerConnected: boolean; readonly brokerSays: string }; stop(): Promise<void> };

/** A packet up to this size is taken, so that quarantine can say `too-large`; beyond, the connection ends. */
const MAX_FRAME_BYTES = 4 * MAX_PAYLOAD_BYTES;
const MAX_CONNECTIONS = 2000;
/** What may wait for its commit. Connections that wait are not read on; beyond this what would come again is let go. */
const MAX_WAITING = 20_000;
const MAX_WAITING_BYTES = 64 * 1024 * 1024;
const TOPIC_ROOT = 'lull/v1/';

/** Whether only programs on this host reach the address. */
export function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '::1' || /^127(\.\d{1,3}){3}$/.test(host);
}

/**
 * A broker of our own (MQTT 3.1.1) for gateways that can be pointed at us directly. The gateway's PUBACK waits for the
 * commit: `authorizePublish` runs before it, and `desk` calls back when the packet is on disk. QoS 0 is taken too, and
 * promises nothing. A will passes the same way when a connection breaks.
 *
 * @throws {ConfigError} if the address is not loopback and no gateways are named, or can't be listened on.
 */
export async function startEmbeddedBroker(params: EmbeddedParams, desk: Desk, log: Log): Promise<EmbeddedBroker> {
  const { host, gateways } = params;
  if (!isLoopback(host) && gateways === undefined) throw new ConfigError(`Cannot let the embedded broker listen on ${host}, as anyone there could publish: name the gateways in LULL_MQTT_GATEWAYS, or listen on 127.0.0.1`);
  const broker = await Aedes.createBroker({ maxTopicLevels: 8, queueLimit: 1000 });
  const waiting = createWaitingRoom({ mostPackets: MAX_WAITING, mostBytes: MAX_WAITING_BYTES, abandon: desk.abandon, log });
  let stopping = false;

  if (gateways !== undefined) {
    const knows = async (client: Client, user: string | undefined, secret: string | undefined): Promise<boolean> => {
      const known = await knowsSecret(gateways, user, secret);
      if (known) names.set(client, user!);
      else log.warn(`A client called ${client.id} was refused: gateway ${JSON.stringify(user ?? '')} and its secret are not in the file of gateways.`);
      return known;
    };
    // Without an error, aedes answers "not authorized" (return code 5).
    const answer = async (known: Promise<boolean>, done: (error: null, known: boolean) => void): Promise<void> => done(null, await known.catch(() => false));
    broker.authenticate = (client, user, password, done) => void answer(knows(client, user, password?.toString()), done);
  }
  const names = new WeakMap<Client, string>();

  broker.authorizePublish = (client, packet, done) => {
    // When we stop, every connection breaks, and its will would say that the gateway is gone.
    if (stopping) return done(new Error('the broker stops'));
    const refusal = client === null ? undefined : refusalOf(packet.topic, gateways, names.get(client));
    if (refusal !== undefined) {
      log.warn(`A packet of ${client?.id} was refused and its connection ended: ${refusal}`);
      return done(new Error(refusal));
    }
    // Only presence is worth keeping for later subscribers; retained readings would fill the memory.
    if (parseTopic(packet.topic)?.kind !== 'presence') packet.retain = false;
    const payload = typeof packet.payload === 'string' ? Buffer.from(packet.payload) : packet.payload;
    const isWill = packet.cmd === undefined;
    const place = waiting.enter({ isGone: () => isClosed(client), bytes: payload.byteLength, comesAgain: packet.qos > 0 && !isWill });
    if (place === undefined) return done(packet.qos === 0 ? null : new Error('too much waits for the store'));
    place.waiting = desk.take({ topic: packet.topic, payload, dup: packet.dup ?? false }, (error) => {
      waiting.leave(place);
      done(error ?? null);
    });
  };
  broker.authorizeSubscribe = (client, subscription, done) => {
    const allowed = gateways === undefined || gateways.get(names.get(client) ?? '')?.sites.some((site) => subscription.topic.startsWith(`${TOPIC_ROOT}${site}/`)) === true;
    done(null, allowed && !subscription.topic.startsWith('$share/') ? subscription : null);
  };
  broker.on('clientError', (client, error) => log.info(`The connection of ${client.id} ended: ${error.message}`));

  const server = createServer((socket) => {
    limitFrames(socket, MAX_FRAME_BYTES, (bytes) => log.warn(`A connection from ${socket.remoteAddress} was ended: it announced a packet of ${bytes} bytes; at most ${MAX_PAYLOAD_BYTES} are read.`));
    broker.handle(socket);
  });
  server.maxConnections = MAX_CONNECTIONS;
  const port = await listen(server, host, params.port);
  log.info(`The embedded broker listens on ${host}:${port}`);
  return {
    port,
    status: () => ({ brokerConnected: server.listening, brokerSays: `embedded broker on ${host}:${port}, ${broker.connectedClients} connected` }),
    stop: () => {
      stopping = true;
      server.close();
      return new Promise((resolve) => broker.close(resolve));
    },
  };
}

/** aedes marks a client whose connection ended, but doesn't declare it. */
function isClosed(client: Client | null): boolean {
  return client !== null && (client as { readonly closed?: boolean }).closed === true;
}

/** Why a client may not publish on a topic. */
function refusalOf(topic: string, gateways: Gateways | undefined, name: string | undefined): string | undefined {
  if (!topic.startsWith(TOPIC_ROOT)) return `topics must begin with ${TOPIC_ROOT}: it was ${JSON.stringify(topic.slice(0, 100))}`;
  if (gateways === undefined) return undefined;
  const site = topic.split('/')[2] ?? '';
  if (gateways.get(name ?? '')?.sites.includes(site) !== true) return `gateway ${name} may not publish under site ${JSON.stringify(site.slice(0, 64))}`;
  const parsed = parseTopic(topic);
  return parsed?.kind === 'presence' && parsed.gateway !== name ? `gateway ${name} may not speak for gateway ${parsed.gateway}` : undefined;
}

async function listen(server: Server, host: string, port: number): Promise<number> {
  await new Promise<void>((resolve, reject) => {
    server.once('error', (error) => reject(new ConfigError(`Cannot let the embedded broker listen on ${host}:${port}: ${error.message}. Set LULL_MQTT_HOST and LULL_MQTT_PORT`, { cause: error })));
    server.listen(port, host, resolve);
  });
  return (server.address() as AddressInfo).port;
}
