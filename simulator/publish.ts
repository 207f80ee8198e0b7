import mqtt, { type MqttClient } from 'mqtt';
import { BrokerError } from '../shared/errors.ts';
import type { GatewayId, GeneratorKey } from '../shared/ids.ts';
import { splitGeneratorKey } from '../shared/ids.ts';
import type { Log } from '../shared/log.ts';
import type { Clock } from '../shared/time.ts';
import { presenceTopic } from '../shared/topics.ts';
import { type Message, messagesOf } from './packs.ts';
import { type Gateway, gatewayOnline, worldGateways } from './story-times.ts';
import { stepWorld, type World } from './world.ts';

/** A gateway keeps so many packs while its broker is away; then the oldest go, as in a small box with little memory. */
const KEPT_PACKS = 5000;
/** How many packs of one gateway wait for the broker's acknowledgement at a time. */
const IN_FLIGHT = 50;
const STEP_MS = 250;
const STOP_MS = 2500;

export type PublisherParams = {
  readonly url: string;
  readonly world: World;
  /** The world's time: readings are published when this clock says that they have arrived. */
  readonly clock: Clock;
  readonly log: Log;
  /** Seconds of the world that pass in one; the clock is what makes it so, here it is only told. */
  readonly timeScale?: number;
  readonly username?: string;
  readonly password?: string;
};
export type PublisherCounts = { readonly published: number; readonly acknowledged: number; readonly dropped: number; readonly waiting: number; readonly connected: number };
export type Publisher = {
  counts(): PublisherCounts;
  /** Publish nothing more; say goodbye where a connection stands; done within 3 s whatever the broker does. */
  stop(): Promise<void>;
};

type Link = { readonly gateway: Gateway; readonly client: MqttClient; readonly queue: Message[]; online: boolean; inFlight: number };
type Totals = { published: number; acknowledged: number; dropped: number };

/**
 * Play a world live over MQTT as its gateways would: one connection for each, with its will and its retained presence, and
 * packs at QoS 1. While the broker is away a gateway keeps its packs, the newest 5,000, and sends them late.
 */
export function startPublisher(params: PublisherParams): Publisher {
  const { world, clock, log } = params;
  log.info('simulated gateways publish', { url: params.url, gateways: worldGateways(world).length, timeScale: params.timeScale ?? 1 });
  const totals: Totals = { published: 0, acknowledged: 0, dropped: 0 };
  const links = worldGateways(world).map((gateway) => connect(gateway, params, gatewayOnline(world, gateway, clock.nowMs())));
  const linkOf = new Map<GeneratorKey, Link>(links.flatMap((link) => link.gateway.generators.map((key): [GeneratorKey, Link] => [key, link])));
  let stopped = false;
  const step = (): void => {
    const nowMs = clock.nowMs();
    if (nowMs > world.nowMs) {
      for (const message of messagesOf(stepWorld(world, nowMs))) {
        const link = linkOf.get(message.generator);
        if (link !== undefined) enqueue(link, message, totals);
      }
    }
    for (const link of links) keepPresence(link, gatewayOnline(world, link.gateway, nowMs));
    for (const link of links) drain(link, totals, () => stopped, log);
  };
  const timer = setInterval(() => {
    try {
      step();
    } catch (error) {
      log.error('the simulated world could not be stepped', { error: error instanceof Error ? error.message : String(error) });
    }
  }, STEP_MS);
  for (const link of links) link.client.on('connect', () => (link.online ? sayOnline(link) : undefined));
  return {
    counts: () => ({ ...totals, waiting: links.reduce((sum, link) => sum + link.queue.length + link.inFlight, 0), connected: links.filter((link) => link.client.connected).length }),
    async stop() {
      stopped = true;
      clearInterval(timer);
      await Promise.all(links.map(close));
    },
  };
}

function presencePayload(link: { readonly gateway: Gateway }, online: boolean): string {
  return JSON.stringify({ online, generators: link.gateway.generators.map((key) => splitGeneratorKey(key).generator) });
}

function topicOf(gateway: Gateway): string {
  return presenceTopic(`${gateway.site}/` as GeneratorKey, gateway.gateway as GatewayId);
}

function connect(gateway: Gateway, params: PublisherParams, online: boolean): Link {
  const client = mqtt.connect(params.url, {
    clientId: `sim-${gateway.gateway}`.slice(0, 64),
    clean: true,
    keepalive: 60,
    reconnectPeriod: 1000,
    connectTimeout: 5000,
    queueQoSZero: false,
    manualConnect: !online,
    will: { topic: topicOf(gateway), payload: Buffer.from(presencePayload({ gateway }, false)), qos: 1, retain: true },
    ...(params.username === undefined ? {} : { username: params.username }),
    ...(params.password === undefined ? {} : { password: params.password }),
  });
  let said = '';
  client.on('error', (error: Error) => {
    if (error.message !== said) params.log.warn('a simulated gateway has no broker', { gateway: gateway.gateway, error: new BrokerError(error.message, { cause: error }).message });
    said = error.message;
  });
  client.on('connect', () => (said = ''));
  return { gateway, client, queue: [], online, inFlight: 0 };
}

function enqueue(link: Link, message: Message, totals: Totals): void {
  link.queue.push(message);
  if (link.queue.length > KEPT_PACKS) {
    link.queue.shift();
    totals.dropped += 1;
  }
}

function sayOnline(link: Link): void {
  link.client.publish(topicOf(link.gateway), presencePayload(link, true), { qos: 1, retain: true }, () => undefined);
}

/** A gateway that the story takes off line leaves without a goodbye, so that the broker publishes its will; back on line it connects again. */
function keepPresence(link: Link, online: boolean): void {
  if (online === link.online) return;
  link.online = online;
  if (online) link.client.connect();
  else {
    // Destroying the socket is what pulling the plug looks like to a broker; `end` then keeps the client from coming back.
    link.client.stream?.destroy();
    link.client.end(true);
  }
}

/** Send what waits, a few at a time; a pack that isn't acknowledged goes back to the front. */
function drain(link: Link, totals: Totals, stopped: () => boolean, log: Log): void {
  while (!stopped() && link.online && link.client.connected && link.inFlight < IN_FLIGHT && link.queue.length > 0) {
    const message = link.queue.shift()!;
    link.inFlight += 1;
    totals.published += 1;
    link.client.publish(message.topic, JSON.stringify(message.payload), { qos: 1 }, (error) => {
      link.inFlight -= 1;
      if (error === undefined || error === null) totals.acknowledged += 1;
      else if (!stopped()) {
        link.queue.unshift(message);
        log.warn('a pack was not acknowledged and waits', { gateway: link.gateway.gateway, error: error.message });
      }
    });
  }
}

/** Take leave: presence false, then a proper end; where the broker doesn't answer, the socket is dropped. */
async function close(link: Link): Promise<void> {
  const { client } = link;
  await new Promise<void>((done) => {
    const late = setTimeout(() => {
      client.end(true);
      done();
    }, STOP_MS);
    const end = (): void => {
      client.end(false, {}, () => {
        clearTimeout(late);
        done();
      });
    };
    if (client.connected) client.publish(topicOf(link.gateway), presencePayload(link, false), { qos: 1, retain: true }, end);
    else {
      clearTimeout(late);
      // A gateway that the story kept off line from the start has no connection to end.
      if (client.stream !== undefined) client.end(true);
      done();
    }
  });
}
