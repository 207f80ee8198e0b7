// World: measuring
import { test } from 'vitest';
import { channelSetOf, firstCheckWithRun, type LeftBehind, visited } from './leaving-worlds.ts';
const N = Number(process.env['N'] ?? 60);
function tell(name: string, left: LeftBehind | null, wanted: string | null, withRun = false) {
  const by: Record<string, { n: number; right: number; other: number; none: number; little: number }> = {};
  const bad: string[] = [];
  for (let seed = 1; seed <= N; seed += 1) {
    const world = visited(seed, left, 1);
    const set = channelSetOf(world.scenario);
    if (withRun && (set === 'duty' || set === 'counters')) continue;
    const check = withRun ? firstCheckWithRun(seed, left) : world.check(30);
    if (check === undefined) continue;
    const row = (by[set] ??= { n: 0, right: 0, other: 0, none: 0, little: 0 });
    row.n += 1;
    if (check.verdict === 'unlike usual') row[check.suspect === wanted ? 'right' : 'other'] += 1;
    else row[check.verdict === 'too little seen' ? 'little' : 'none'] += 1;
    if (left === null ? check.verdict === 'unlike usual' : check.suspect !== wanted && check.verdict === 'unlike usual') bad.push(`${seed} ${set}: ${check.suspect} ${check.items.filter((item) => item.state === 'unlike usual').map((item) => item.says).join(' | ')}`);
  }
  console.log(name, JSON.stringify(by), '\n' + bad.slice(0, 12).join('\n'));
}
import { appendFileSync } from 'node:fs';
const log = console.log;
console.log = (...args: unknown[]) => { log(...args); appendFileSync(process.env['OUT']!, args.join(' ') + '\n'); };
const which = process.env['WHICH'];
test('measure', () => {
  if (which === 'a') {
    tell('healthy', null, null);
    tell('shut all', { cause: 'valve-left-shut', variant: 'supply', severity: 'urgent' }, 'supply-shut');
    for (const severity of ['barely', 'plain', 'marked', 'urgent'] as const) tell(`tank ${severity}`, { cause: 'bleed-left-open', variant: 'tank', severity }, 'bleed-open');
  } else {
    for (const severity of ['urgent', 'plain'] as const) tell(`feed ${severity}, with a run`, { cause: 'bleed-left-open', variant: 'feed', severity }, 'bleed-open', true);
    tell('healthy, with a run', null, null, true);
    for (const severity of ['marked', 'barely'] as const) tell(`feed ${severity}, with a run`, { cause: 'bleed-left-open', variant: 'feed', severity }, 'bleed-open', true);
  }
}, 3_600_000);
