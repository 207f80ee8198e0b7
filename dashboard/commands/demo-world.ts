import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { ConfigError } from '../../shared/errors.ts';
import { DAY_MS } from '../../shared/time.ts';
import { DEMO_DAYS, demoFleet } from '../../simulator/demo-fleet.ts';
import type { Scenario } from '../../simulator/scenario.ts';
import { startWorld, type World } from '../../simulator/world.ts';

/** What marks a folder as the demo's own: only such a folder is ever emptied. */
const MARKER = 'demo.json';
const WORLD = 'world.json';
const SEED = 7;

/** The world that was left in a demo's folder; `undefined` if there is none that is whole. */
export function keptWorld(folder: string): World | undefined {
  try {
    return JSON.parse(readFileSync(join(folder, WORLD), 'utf8')) as World;
  } catch {
    return undefined;
  }
}

/** Written beside and then renamed, so that a kill leaves the old or the new one. */
export function keepWorld(folder: string, world: World): void {
  writeFileSync(join(folder, `${WORLD}.new`), JSON.stringify(world));
  renameSync(join(folder, `${WORLD}.new`), join(folder, WORLD));
}

/**
 * Make an empty folder for a demo.
 * @throws {ConfigError} if the folder holds something that no demo put there.
 */
export function emptyDemoFolder(folder: string): void {
  if (existsSync(folder) && readdirSync(folder).length > 0) {
    if (!existsSync(join(folder, MARKER))) throw new ConfigError(`${folder} holds something else than a demo; name another folder with --data`);
    rmSync(folder, { recursive: true });
  }
  mkdirSync(folder, { recursive: true });
  writeFileSync(join(folder, MARKER), `${JSON.stringify({ says: 'Everything in this folder is simulated. lull demo --fresh empties it.' })}\n`);
}

/** A new world whose story has gone on for `days` at `nowMs`. */
export function newWorld(days: number, nowMs: number): World {
  const startMs = nowMs - days * DAY_MS;
  return startWorld({ scenario: shifted(demoFleet(startMs), days - DEMO_DAYS), seed: SEED, startMs });
}

/** The same story told in fewer days: what began before the world did is there from its first day, what ended before is left out. */
function shifted(scenario: Scenario, byDays: number): Scenario {
  if (byDays === 0) return scenario;
  return {
    ...scenario,
    generators: scenario.generators.map((generator) => ({
      ...generator,
      faults: generator.faults.map((fault) => ({ ...fault, fromDay: fault.fromDay + byDays, ...(fault.toDay === undefined ? {} : { toDay: fault.toDay + byDays }) })).filter((fault) => (fault.toDay ?? Infinity) > 0),
      upsets: generator.upsets.map((upset) => ({ ...upset, fromDay: upset.fromDay + byDays })).filter((upset) => upset.fromDay > 0),
      visits: generator.visits.map((visit) => ({ ...visit, atDay: visit.atDay + byDays })).filter((visit) => visit.atDay > 0),
    })),
  };
}
