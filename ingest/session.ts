import mqtt, { type MqttClient } from 'mqtt';
import type { Log } from '../shared/log.ts';
import { PRESENCE_FILTER, READINGS_FILTER } from '../shared/topics.ts';
import type { Desk } from './desk.ts';
import type { Waiting } from './intake.ts';

export type SessionParams = {
  readonly url: string;
  readonly user?: string;
  readonly password?: string;
  /** Certificate of the authority that signed the broker's, PEM. */
  readonly ca?: string | Uint8Array;
  /** Fixed: the broker keeps our session, and what we haven't acknowledged, under it. */
  readonly clientId: string;
};

export type Session = {
  status(): { readonly brokerConnected: boolean; readonly brokerSays: string };
  stop(): Promise<void>;
};

const RECONNECT_MS = 2000;
const END_WITHIN_MS = 1000;
/** A granted QoS of 128 is a refusal. @see MQTT 3.1.1, section 3.9.3. */
const REFUSED = 128;

/**
 * One MQTT session: QoS 1, clean session off, fixed client id. A packet is acknowledged when it is on disk: mqtt.js
 * sends PUBACK when the callback of `handleMessage` is called, and hands over the next packet only then. So while the
 * store is down the broker keeps what is to come.
 */
export function startSession(params: SessionParams, desk: Desk, log: Log): Session {
  const shownUrl = withoutSecrets(params.url);
  let says = `connecting to ${shownUrl}`;
  let subscribed = false;
  /** Counts connections, so that an acknowledgement never goes out on another connection than its packet came in on. */
  let connection = 0;
  let inHand: Waiting | undefined;
  let stopping = false;
  const tell = (level: 'info' | 'warn' | 'error', message: string): void => {
    if (message !== says) log[level](message);
    says = message;
  };

  const client: MqttClient = mqtt.connect(params.url, {
    clientId: params.clientId,
    clean: false,
    resubscribe: false,
    reconnectPeriod: RECONNECT_MS,
    connectTimeout: 10_000,
    // Without it mqtt.js would go on with nothing after a refused connection, as with a password that is put right later.
    reconnectOnConnackError: true,
    ...(params.user === undefined ? {} : { username: params.user }),
    ...(params.password === undefined ? {} : { password: params.password }),
    ...(params.ca === undefined ? {} : { ca: Buffer.from(params.ca) }),
    manualConnect: true,
  });

  client.handleMessage = (packet, done) => {
    const mine = connection;
    // What waits from an earlier connection was not acknowledged, so it comes again: this may be it.
    if (inHand !== undefined) desk.abandon(inHand);
    const payload = typeof packet.payload === 'string' ? Buffer.from(packet.payload) : packet.payload;
    const waiting = desk.take({ topic: packet.topic, payload, dup: packet.dup }, (error) => {
      if (inHand === waiting) inHand = undefined;
      // An error leaves the packet without PUBACK.
      if (error !== undefined) done(error);
      else if (mine !== connection || waiting.abandoned) done(new Error('the connection that this packet came in on is gone'));
      else done();
    });
    inHand = waiting;
  };

  client.on('connect', ({ sessionPresent }) => {
    connection += 1;
    // A session that the broker kept has its subscriptions; their renewal waits behind the packets that come first.
    subscribed = sessionPresent;
    if (subscribed) tell('info', `connected to ${shownUrl}`);
    client.subscribe([READINGS_FILTER, PRESENCE_FILTER], { qos: 1 }, (error, granted) => {
      const refused = granted?.filter(({ qos }) => qos === REFUSED).map(({ topic }) => topic) ?? [];
      if (error !== null || refused.length > 0) {
        if (!client.connected) return;
        subscribed = false;
        tell('error', `the broker at ${shownUrl} refused to let us subscribe to ${refused.length > 0 ? refused.join(' and ') : `${READINGS_FILTER} and ${PRESENCE_FILTER}`}: give ${params.user ?? 'our user'} the right to read lull/v1/#`);
        return;
      }
      subscribed = true;
      tell('info', `connected to ${shownUrl}`);
    });
  });
  client.on('close', () => {
    connection += 1;
    const wasConnected = subscribed;
    subscribed = false;
    if (wasConnected && !stopping) tell('warn', `lost the broker at ${shownUrl}; connecting again every ${RECONNECT_MS / 1000} s`);
  });
  client.on('error', (error) => tell('error', `can't connect to the broker at ${shownUrl}: ${explain(error)}; trying again every ${RECONNECT_MS / 1000} s`));
  client.connect();

  return {
    status: () => ({ brokerConnected: client.connected && subscribed, brokerSays: says }),
    stop: () =>
      new Promise((resolve) => {
        stopping = true;
        // The session stays at the broker and keeps what comes meanwhile.
        const late = setTimeout(resolve, END_WITHIN_MS);
        client.end(true, {}, () => {
          clearTimeout(late);
          resolve();
        });
      }),
  };
}

/** What a person can do about a refused connection. */
function explain(error: Error): string {
  const code = (error as { code?: unknown }).code;
  if (code === 4 || code === 5 || code === 134 || code === 135) return `${error.message} (check LULL_MQTT_USER and LULL_MQTT_PASSWORD)`;
  if (code === 'SELF_SIGNED_CERT_IN_CHAIN' || code === 'UNABLE_TO_VERIFY_LEAF_SIGNATURE' || code === 'DEPTH_ZERO_SELF_SIGNED_CERT') return `${error.message} (name the authority's certificate in LULL_MQTT_CA_FILE)`;
  return error.message === '' ? JSON.stringify(code ?? 'no reason given') : error.message;
}

function withoutSecrets(url: string): string {
  return url.replace(/\/\/[^@/]*@/, '//');
}
