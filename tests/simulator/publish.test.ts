// World: single generators played over a real mosquitto; what arrives is compared with a twin world that was only stepped.
import mqtt, { type MqttClient } from 'mqtt';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { decodePack } from '../../ingest/decode-pack.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import { readingsOf } from '../../shared/reading-batch.ts';
import { HOUR_MS } from '../../shared/time.ts';
import { type Publisher, startPublisher } from '../../simulator/publish.ts';
import type { Scenario } from '../../simulator/scenario.ts';
import { startWorld, stepWorld, type World } from '../../simulator/world.ts';
import { type Mosquitto, startMosquitto } from '../ingest/mosquitto.ts';
import { oneGenerator, START_MS } from './one-generator.ts';

let broker: Mosquitto;
let subscriber: MqttClient;
/** What was heard since the test began: readings as texts, and presence by topic. */
let heard: Set<string>;
let packs: number;
let presence: Map<string, boolean[]>;

beforeAll(async () => {
  broker = await startMosquitto();
  subscriber = mqtt.connect(broker.url, { clientId: 'listener', reconnectPeriod: 200, clean: false });
  subscriber.on('message', (topic, payload) => {
    const said = JSON.parse(payload.toString()) as unknown;
    if (topic.includes('/presence/')) {
      presence.set(topic, [...(presence.get(topic) ?? []), (said as { online: boolean }).online]);
      return;
    }
    packs += 1;
    const records = decodePack(said, Date.now());
    if (!Array.isArray(records)) throw new Error('a pack could not be decoded');
    for (const record of records) heard.add(`${topic.split('/').slice(2, 4).join('/')} ${record.channel} ${record.atMs}`);
  });
  await new Promise<void>((resolve) => {
    subscriber.once('connect', () => resolve());
  });
  await subscriber.subscribeAsync('lull/v1/#', { qos: 1 });
});
afterAll(async () => {
  await subscriber.endAsync(true);
  await broker.stop();
});

/** Three gateways of one generator each; the third falls silent after two hours. */
function scenarioOf(): Scenario {
  const generators = ['a', 'b', 'c'].map((name) => ({
    ...oneGenerator({ faults: name === 'c' ? [{ cause: 'data-gap', severity: 'urgent', shape: 'step', fromDay: 2 / 24 }] : [] }).generators[0]!,
    key: `site-${name}/gen-1` as GeneratorKey,
    gateway: `gw-${name}`,
  }));
  return { name: 'three', registry: { sites: [] }, generators };
}

/** Two minutes of the world pass in a tenth of a second. */
const SCALE = 1200;
function play(): { world: World; publisher: Publisher } {
  heard = new Set();
  packs = 0;
  presence = new Map();
  const world = startWorld({ scenario: scenarioOf(), seed: 6, startMs: START_MS });
  const from = Date.now();
  const clock = { nowMs: () => START_MS + (Date.now() - from) * SCALE };
  return { world, publisher: startPublisher({ url: broker.url, world, clock, log: SILENT_LOG, timeScale: SCALE }) };
}

function expectedUntil(toMs: number): string[] {
  const twin = startWorld({ scenario: scenarioOf(), seed: 6, startMs: START_MS });
  return [...readingsOf(stepWorld(twin, toMs))].map((one) => `${one.generator} ${one.channel} ${one.atMs}`);
}

async function settled(publisher: Publisher): Promise<void> {
  for (let round = 0; round < 100 && (publisher.counts().waiting > 0 || publisher.counts().connected < 2); round += 1) await sleep(50);
}

test('startPublisher() brings every reading, also those of a time without broker, and says who is there', async () => {
  const { world, publisher } = play();
  await sleep(3000);
  expect(publisher.counts().connected).toBe(3);
  await broker.pause();
  await sleep(2500);
  await broker.start();
  await sleep(4500);
  expect(world.nowMs - START_MS).toBeGreaterThan(3 * HOUR_MS);
  const untilMs = world.nowMs;
  await settled(publisher);
  await sleep(500);
  const wasThere = presence.get('lull/v1/site-a/presence/gw-a')?.at(-1);
  await publisher.stop();
  // What the third still kept when it died is lost with it, as it is with a real one.
  const missing = expectedUntil(untilMs).filter((one) => !one.startsWith('site-c') && !heard.has(one));
  expect(missing).toEqual([]);
  expect(heard.size).toBeGreaterThan(300);
  expect(wasThere).toBe(true);
  // The third gateway was taken off line by its story: the broker published its will.
  expect(presence.get('lull/v1/site-c/presence/gw-c')?.at(-1)).toBe(false);
});

test('stop() publishes nothing more and leaves each gateway off line, within 3 s', async () => {
  const { publisher } = play();
  await sleep(1500);
  expect(packs).toBeGreaterThan(10);
  const from = Date.now();
  await publisher.stop();
  expect(Date.now() - from).toBeLessThan(3000);
  await sleep(300);
  const after = packs;
  await sleep(1000);
  expect(packs).toBe(after);
  expect(presence.get('lull/v1/site-b/presence/gw-b')?.at(-1)).toBe(false);
  expect(publisher.counts().connected).toBe(0);
});

test('stop() is done within 3 s when the broker is gone', async () => {
  const { publisher } = play();
  await sleep(700);
  await broker.pause();
  await sleep(300);
  const from = Date.now();
  await publisher.stop();
  expect(Date.now() - from).toBeLessThan(3000);
  await broker.start();
});
