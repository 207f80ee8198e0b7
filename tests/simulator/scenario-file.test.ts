// Issue: scenario files describe a world in twenty lines, are validated, and come with six worked examples.
import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { parseRegistry } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { parseScenarioFile, type ScenarioFile } from '../../simulator/scenario-file.ts';
import { scenarioOfFile } from '../../simulator/scenario-of-file.ts';
import { worldTruth } from '../../simulator/truth.ts';
import { startWorld, stepWorld } from '../../simulator/world.ts';

const FOLDER = fileURLToPath(new URL('../../simulator/scenarios/', import.meta.url));
const START_MS = Date.UTC(2026, 0, 5);
const examples = readdirSync(FOLDER).filter((name) => name.endsWith('.yaml'));

function read(text: string): ScenarioFile {
  const parsed = parseScenarioFile(text);
  if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
  return parsed.file;
}
function problems(text: string): string[] {
  const parsed = parseScenarioFile(text);
  return 'problems' in parsed ? parsed.problems.map((one) => `${one.where}: ${one.says}`) : [];
}

test('there are six worked examples', () => expect(examples.length).toBe(6));

describe.each(examples)('%s', (name) => {
  const file = read(readFileSync(FOLDER + name, 'utf8'));
  test('describes a registered world that lives', () => {
    const scenario = scenarioOfFile(file, START_MS);
    expect('registry' in parseRegistry(JSON.stringify(scenario.registry))).toBe(true);
    const world = startWorld({ scenario, seed: 3, startMs: START_MS });
    const batch = stepWorld(world, START_MS + 3 * DAY_MS);
    expect(batch.atMs.length).toBeGreaterThan(1000);
    for (const generator of scenario.generators) for (const fault of generator.faults) expect(fault.fromDay).toBeLessThan(file.days);
    const truth = worldTruth({ ...world, nowMs: START_MS + file.days * DAY_MS });
    expect(truth.faults.length).toBe(scenario.generators.flatMap((one) => one.faults).length);
    expect(truth.faults.length + truth.upsets.length).toBeGreaterThan(0);
  });
});

describe('parseScenarioFile()', () => {
  const world = (generator: string): string => `name: x\nsites:\n  - id: a\n    generators:\n      - { id: gen-1, ${generator} }\n`;
  test('fills in what is left out', () => {
    const [made] = read(world('dutyRatio: 0.05')).sites[0]!.generators;
    expect(made).toMatchObject({ kind: 'membrane', tankLitres: 115, risers: [2300], channels: 'full', faults: [] });
  });
  test('says where and what is wrong, all of it at once', () => {
    expect(problems('name: [')[0]).toMatch(/^file: is no YAML/);
    expect(problems(world('faults: [{ cause: leak, severity: huge, from: 3 }]'))[0]).toMatch(/^sites.0.generators.0.faults.0.severity: /);
    expect(problems(world('faults: [{ cause: leak, severity: plain, from: nobody }, { cause: sensor-fault, severity: plain, from: 1 }]'))).toEqual(["sites.0.generators.0.faults.0.from: must be a day or the id of one of this generator's visits: nobody is neither", 'sites.0.generators.0.faults.1.channel: must say which channel lies']);
    expect(problems(world('faults: [{ cause: leak, variant: roof, severity: plain, from: 1, riser: 2 }]'))).toEqual(['sites.0.generators.0.faults.0.variant: must be one of piping, tank', 'sites.0.generators.0.faults.0.riser: must be at most 1, the number of risers']);
    expect(problems(world('channels: slim, faults: [{ cause: sensor-fault, severity: plain, from: 1, channel: feed-pressure }]'))[0]).toMatch(/must be one that this generator sends: running, tank-pressure/);
    expect(problems(world('cutInKPa: 600, cutOutKPa: 610'))[0]).toMatch(/at least 20 kPa above/);
    expect(problems(world('faults: [{ cause: sensor-fault, variant: exchanged, severity: plain, from: 1 }]'))).toEqual(['sites.0.generators.0.faults.0.variant: is of two generators: write it under exchanged of the site']);
    expect(problems('name: x\nsites:\n  - { id: a, generators: [{ id: b }, { id: c, channels: slim }], exchanged: [{ generators: [b, c], from: 3 }, { generators: [b, b], from: 3 }] }\n')).toEqual(['sites.0.exchanged.0.generators: must send the same channels', 'sites.0.exchanged.1.generators: must be two generators of this site']);
    expect(problems(world('nonsense: 1'))[0]).toMatch(/nonsense/);
    expect(problems('name: x\nsites:\n  - { id: a, generators: [{ id: b }, { id: b }] }\n')).toEqual(['sites.0.generators.1.id: is used twice: b']);
  });
});

test('scenarioOfFile() lets visits begin and end faults', () => {
  const text = `name: x\nsites:\n  - id: a\n    generators:\n      - id: gen-1\n        visits: [{ id: v1, day: 10.5, hours: 2, replaced: elements, notReally: [carbon-element] }, { id: v2, day: 20.5 }]\n        faults:\n          - { cause: bleed-left-open, severity: plain, from: v1, until: v2 }\n          - { cause: leak, severity: plain, from: 3, until: v2, leftAfterVisit: 0.5, growsDays: 9, growth: slowing }\n          - { cause: leak, severity: plain, from: 3, until: 7, comesAndGoes: true }\n`;
  const [one] = scenarioOfFile(read(text), START_MS).generators;
  expect(one!.faults[0]).toMatchObject({ fromDay: 10.5 + 2 / 24, toDay: 20.5, endedBy: 'v2', shape: 'step' });
  expect(one!.faults[1]).toMatchObject({ badlyMended: { fromDay: 20.5, share: 0.5 }, shape: 'ramp', growDays: 9, growth: 'slowing' });
  expect(one!.faults[1]).not.toHaveProperty('toDay');
  expect(one!.faults[2]).toMatchObject({ toDay: 7, shape: 'comes-and-goes' });
  expect(one!.visits[0]).toMatchObject({ replaced: ['intake-element', 'particulate-element', 'coalescing-element', 'carbon-element'], notReally: ['carbon-element'] });
});
