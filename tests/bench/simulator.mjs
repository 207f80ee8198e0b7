// How fast worlds are made: `node tests/bench/simulator.mjs` after `npm run build`. Prints, asserts nothing.
// One generator, a year, seven channels each minute and the run state; and the same as SenML text, which is what a recording costs.
import { fileURLToPath } from 'node:url';

const built = process.argv[2] ?? fileURLToPath(new URL('../../.build', import.meta.url));
const load = (path) => import(`file://${built}/${path}`);
const { demoFleet, DEMO_DAYS } = await load('simulator/demo-fleet.js');
const { messagesOf } = await load('simulator/packs.js');
const { plantOf } = await load('simulator/site-plant.js');
const { startWorld, stepWorld } = await load('simulator/world.js');

const DAY_MS = 86_400_000;
const START_MS = Date.UTC(2026, 0, 5);

/** Seconds of processor time that `work` takes. */
function cpuS(work) {
  const before = process.cpuUsage();
  work();
  const used = process.cpuUsage(before);
  return (used.user + used.system) / 1e6;
}

function live(world, days, withJson) {
  let readings = 0;
  let bytes = 0;
  const totalS = cpuS(() => {
    for (let day = 1; day <= days; day += 1) {
      const batch = stepWorld(world, START_MS + day * DAY_MS);
      readings += batch.atMs.length;
      if (withJson) for (const message of messagesOf(batch)) bytes += JSON.stringify(message.payload).length;
    }
  });
  return { readings, bytes, totalS };
}

function say(name, { readings, totalS }, more = '') {
  console.log(`${name}: ${readings} readings in ${totalS.toFixed(2)} s of processor time, ${Math.round(readings / totalS)} a second${more}`);
}

const plant = plantOf({ id: 'gen-1', climate: 'foothill', elevationM: 100, ratedNLPerMin: 28, ratedNitrogen: 0.987, tankLitres: 115, cutInKPa: 550, cutOutKPa: 700, setKPa: 240, dutyRatio: 0.08, tankShare: 0.1, risers: [2300], headroomKPa: 150, piping: 'indoors', stepped: false });
const channels = ['running', 'tank-pressure', 'discharge-pressure', 'feed-pressure', 'system-pressure', 'nitrogen', 'oxygen', 'motor-current'];
const generator = { key: 'bench/gen-1', gateway: 'gw', plant, channels, nitrogenAt: 'product', reportEveryS: 60, loading: [0.1, 0.1, 0.1, 0.1], runHours: 1000, faults: [], upsets: [], visits: [], lossRatio: 0, doubleRatio: 0 };
const year = () => startWorld({ scenario: { name: 'bench', registry: { sites: [] }, generators: [structuredClone(generator)] }, seed: 1, startMs: START_MS });

live(year(), 30, false);
const plain = live(year(), 365, false);
say('a generator-year, seven channels each minute', plain, '; the goal is 3 s');
const text = live(year(), 365, true);
say('the same as SenML text', text, `; ${Math.round((100 * (text.totalS - plain.totalS)) / text.totalS)} % of it in JSON, ${(text.bytes / 1e6).toFixed(0)} MB`);
say(`the demo's fleet, ${DEMO_DAYS} days`, live(startWorld({ scenario: demoFleet(START_MS), seed: 7, startMs: START_MS }), DEMO_DAYS, false));
