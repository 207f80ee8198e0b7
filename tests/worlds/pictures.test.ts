// World: the pictures of the three kinds of world in which it does worst, and a small one of tuning seed 13 that is drawn anew.
import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, expect, test } from 'vitest';
import { runLull } from '../journeys/lull-process.ts';

const here = (name: string): string => fileURLToPath(new URL(name, import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'lull-pictures-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const SMALL = ['score', '--world', '13', '--generators', '2', '--days', '20'];
const LARGEST_BYTES = 60_000;

test('the README shows each picture, with the command that draws it again, of tuning seeds alone', () => {
  const readme = readFileSync(here('README.md'), 'utf8');
  const pictures = readdirSync(here('pictures')).sort();
  expect(pictures).toHaveLength(3);
  for (const name of pictures) {
    expect(readme).toContain(`](pictures/${name})`);
    const command = new RegExp(`lull score --world (\\d+) --of (\\S+)/(\\S+) --picture tests/worlds/pictures/${name.replace('.', '\\.')}`).exec(readme);
    const [, seed, site, generator] = command!;
    expect(Number(seed) % 2).toBe(1);
    const svg = readFileSync(here(`pictures/${name}`), 'utf8');
    expect(svg).toContain(`Simulated: ${site} / ${generator} of the world of seed ${seed} (25 generators, 180 days)`);
    expect(statSync(here(`pictures/${name}`)).size).toBeLessThan(LARGEST_BYTES);
  }
});

test('score --world draws such a picture of one generator, the same each time', async () => {
  const draw = async (file: string): Promise<string> => {
    const ended = await runLull([...SMALL, '--of', 'site-1/gen-1', '--picture', file], folder);
    expect([ended.code, ended.said]).toEqual([0, `picture: ${file}\n`]);
    expect(ended.out).toMatch(/^site-1\/gen-1 of the world of seed 13\. /);
    return readFileSync(join(folder, file), 'utf8');
  };
  const svg = await draw('a.svg');
  // As those of the README: the same parts in the same order.
  const parts = (text: string): string[] => [...text.matchAll(/class="(world-picture|replay-line|band band-large)"/g)].map(([, name]) => name!);
  expect(parts(svg)).toEqual(parts(readFileSync(here('pictures/gauge-alone.svg'), 'utf8')));
  expect(svg).toContain('Duty ratio, %');
  expect(svg.length).toBeLessThan(LARGEST_BYTES);
  expect(await draw('b.svg')).toBe(svg);
}, 180_000);

test('score --world refuses reporting seeds, generators that are not there, and what goes with campaigns', async () => {
  for (const [args, says] of [
    [['score', '--world', '14', '--of', 'site-1/gen-1', '--picture', 'c.svg'], 'take an odd one, such as 15'],
    [[...SMALL, '--of', 'site-9/gen-1', '--picture', 'c.svg'], '--of must name a generator of this world: current value is "site-9/gen-1". It has site-1/gen-1'],
    [[...SMALL, '--picture', 'c.svg'], 'none is given. It has site-1/gen-1'],
    [[...SMALL, '--of', 'site-1/gen-1'], '--picture FILE.svg'],
    [['score', '--of', 'site-1/gen-1', '--picture', 'c.svg'], 'wants --world SEED'],
    [[...SMALL, '--of', 'site-1/gen-1', '--picture', 'c.svg', '--campaign', '5'], 'goes with no --campaign'],
    [[...SMALL, '--of', 'site-1/gen-1', '--picture', 'c.svg', 'recording'], 'goes with no recording'],
    [['score', '--world', '13.5', '--of', 'site-1/gen-1', '--picture', 'c.svg'], '--world must be a whole number'],
  ] as const) {
    const ended = await runLull([...args], folder);
    expect([args, ended.code]).toEqual([args, 2]);
    expect(ended.said).toContain(says);
  }
  expect(readdirSync(folder).includes('c.svg')).toBe(false);
}, 120_000);

test('score --world writes its picture only into a folder that is there, and says so before the work', async () => {
  const ended = await runLull([...SMALL, '--of', 'site-1/gen-1', '--picture', 'nowhere/c.svg'], folder);
  expect([ended.code, ended.said]).toEqual([1, expect.stringContaining('nowhere')]);
  expect(ended.said).not.toMatch(/ENOENT/);
}, 60_000);
