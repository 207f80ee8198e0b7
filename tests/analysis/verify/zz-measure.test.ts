// World: measuring
import { test } from 'vitest';
import { checkAfterVisit, type LeftBehind, type Seen } from './leaving-worlds.ts';
const N = Number(process.env['N'] ?? 60);
function tell(name: string, left: LeftBehind | null, wanted: string | null) {
  const by: Record<string, { n: number; right: number; other: number; none: number; little: number }> = {};
  const bad: string[] = [];
  for (let seed = 1; seed <= N; seed += 1) {
    const seen: Seen = checkAfterVisit(seed, left);
    const set = seen.scenario.channels.includes('feed-pressure') ? 'full' : seen.scenario.channels.includes('nitrogen') ? 'middle' : seen.scenario.channels.includes('running') ? 'slim' : seen.scenario.channels.includes('run-time') ? 'counters' : 'duty';
    const row = (by[set] ??= { n: 0, right: 0, other: 0, none: 0, little: 0 });
    row.n += 1;
    const { check } = seen;
    if (check.verdict === 'unlike usual') row[check.suspect === wanted ? 'right' : 'other'] += 1;
    else row[check.verdict === 'too little seen' ? 'little' : 'none'] += 1;
    if (left === null ? check.verdict === 'unlike usual' : check.suspect !== wanted && check.verdict === 'unlike usual') bad.push(`${seed} ${set}: ${check.suspect} ${check.items.filter((item) => item.state === 'unlike usual').map((item) => item.says).join(' | ')}`);
  }
  console.log(name, JSON.stringify(by), '\n' + bad.slice(0, 12).join('\n'));
}
test('measure', () => {
  tell('healthy', null, null);
  tell('shut all', { cause: 'valve-left-shut', variant: 'supply', severity: 'urgent' }, 'supply-shut');
  for (const severity of ['barely', 'plain', 'marked', 'urgent'] as const) {
    tell(`feed ${severity}`, { cause: 'bleed-left-open', variant: 'feed', severity }, 'bleed-open');
    tell(`tank ${severity}`, { cause: 'bleed-left-open', variant: 'tank', severity }, 'bleed-open');
  }
}, 600_000);
