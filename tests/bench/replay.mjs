// How fast a recording is folded again, what a day's close costs, and whether memory grows with history: node tests/bench/replay.mjs [build folder, default .build]
// Gateways that report seven channels each minute, packs of about 7. Prints JSON with the budgets beside. Not part of the tests: a busy machine makes every figure worse.
import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { availableParallelism, loadavg, tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const built = resolve(process.argv[2] ?? fileURLToPath(new URL('../../.build', import.meta.url)));
const load = (path) => import(`file://${built}/${path}`);
const { GeneratorWatch } = await load('analysis/generator-watch.js');
const { DEFAULT_ANALYSIS_SETTINGS, hashOfSettings } = await load('shared/analysis-settings.js');
const { generatorsOf } = await load('shared/registry.js');
const { parseScenarioFile } = await load('simulator/scenario-file.js');
const { scenarioOfFile } = await load('simulator/scenario-of-file.js');
const { startWorld, stepWorld } = await load('simulator/world.js');
const { writeRecording } = await load('simulator/write-recording.js');

const DAY_MS = 86_400_000;
const TICK_MS = 600_000;
const START_MS = Date.UTC(2026, 0, 5);
const CHANNELS = ['running', 'run-time', 'starts', 'tank-pressure', 'discharge-pressure', 'feed-pressure', 'system-pressure', 'nitrogen', 'oxygen', 'motor-current'];
const BUDGET = { readingsPerSecond: 300_000, msPerClosedDay: 2, memoryOf240To60Days: 1.25 };

/** Every second generator has a leak that grows over the middle of the time. */
function worldOf(generators, days, reportEveryS) {
  const lines = Array.from({ length: generators }, (_, one) => `  - id: site-${one}\n    generators:\n      - { id: gen-1, dutyRatio: 0.12, channels: [${CHANNELS.join(', ')}], reportEveryS: ${reportEveryS}${one % 2 === 1 ? `, faults: [{ cause: leak, severity: marked, from: ${days / 3}, growsDays: ${days / 3} }]` : ''} }`);
  const { file } = parseScenarioFile(`name: bench\ndays: ${days}\nsites:\n${lines.join('\n')}\n`);
  const scenario = scenarioOfFile(file, START_MS);
  return { scenario, world: startWorld({ scenario, seed: 5, startMs: START_MS }) };
}

/** The command itself, as a person runs it; at its end it is asked what it used. Processor time counts all its threads, and its start of about half a second. */
async function replay(generators, days) {
  const folder = join(scratch, `${generators}-${days}`);
  mkdirSync(folder);
  const { packs, readings: sent } = await writeRecording({ world: worldOf(generators, days, 60).world, folder, toMs: START_MS + days * DAY_MS });
  const atEnd = 'data:text/javascript,process.on("exit",()=>console.error("used "+JSON.stringify(process.resourceUsage())))';
  const { stderr } = spawnSync(process.execPath, ['--import', atEnd, join(built, 'dashboard/commands/main.js'), 'replay', folder, '--json', '--speed', 'report'], { encoding: 'utf8', maxBuffer: 1e9 });
  const [, readings, seconds] = /(\d+) readings in ([\d.]+) s/.exec(stderr).map(Number);
  const used = JSON.parse(/^used (.*)$/m.exec(stderr)[1]);
  const processorS = (used.userCPUTime + used.systemCPUTime) / 1e6;
  rmSync(folder, { recursive: true });
  return { generators, days, readings, perPack: round(sent / packs, 1), seconds, processorS: round(processorS, 2), readingsPerSecond: Math.round(readings / seconds), readingsPerProcessorSecond: Math.round(readings / processorS), mostMemoryMB: Math.round(used.maxRSS / 1024) };
}

/** Ticks of one generator over 400 days; what one in which a day closes takes longer than the middle of the others, in the 20 days up to each length of history. Processor time, so that others on the machine count less. */
function closedDays(leaks, lengths) {
  const days = Math.max(...lengths);
  const { scenario, world } = worldOf(2, days, 300);
  const registered = generatorsOf(scenario.registry)[leaks ? 1 : 0];
  const watch = new GeneratorWatch({ registered, entries: [], settings: DEFAULT_ANALYSIS_SETTINGS, settingsHash: hashOfSettings(DEFAULT_ANALYSIS_SETTINGS) });
  const ticks = [];
  for (let day = 1; day <= days; day += 1) {
    const { series, seriesIndex, atMs, value, receivedMs } = stepWorld(world, START_MS + day * DAY_MS);
    let row = 0;
    const receiveUntil = (untilMs) => {
      for (; row < atMs.length && receivedMs[row] < untilMs; row += 1) {
        const { generator, channel } = series[seriesIndex[row]];
        if (generator === registered.key) watch.receive(channel, atMs[row], value[row], receivedMs[row]);
      }
    };
    for (let tickMs = START_MS + (day - 1) * DAY_MS + TICK_MS; tickMs <= START_MS + day * DAY_MS; tickMs += TICK_MS) {
      receiveUntil(tickMs);
      const before = process.cpuUsage();
      const { dayClosed } = watch.tick(tickMs);
      const { user, system } = process.cpuUsage(before);
      ticks.push({ day, dayClosed, ms: (user + system) / 1000 });
    }
    receiveUntil(Infinity);
  }
  return lengths.map((length) => {
    const near = ticks.filter(({ day }) => day > length - 20 && day <= length);
    const usualMs = quantile(near.filter(({ dayClosed }) => !dayClosed), 0.5);
    const closes = near.filter(({ dayClosed }) => dayClosed);
    return { days: length, leaks, msPerClosedDay: round(quantile(closes, 0.5) - usualMs, 2), msOfTheSlowestTenth: round(quantile(closes, 0.9) - usualMs, 2), usPerUsualTick: Math.round(1000 * usualMs) };
  });
}

function quantile(ticks, p) {
  const ordered = ticks.map(({ ms }) => ms).sort((a, b) => a - b);
  return ordered[Math.round(p * (ordered.length - 1))];
}

function round(value, digits) {
  return Math.round(value * 10 ** digits) / 10 ** digits;
}

const scratch = mkdtempSync(join(tmpdir(), 'lull-bench-'));
try {
  const pace = await replay(4, 100);
  const closes = [...closedDays(false, [60, 180, 400]), ...closedDays(true, [60, 180, 400])];
  // About 50 days of readings are kept at most: what grows after that grows with history.
  const [short, long] = [await replay(2, 60), await replay(2, 240)];
  const memory = { of60DaysMB: short.mostMemoryMB, of240DaysMB: long.mostMemoryMB, ratio: round(long.mostMemoryMB / short.mostMemoryMB, 2) };
  console.log(JSON.stringify({ cores: availableParallelism(), load: round(loadavg()[0], 2), budget: BUDGET, pace, closes, memory }, null, 2));
} finally {
  rmSync(scratch, { recursive: true, force: true });
}
