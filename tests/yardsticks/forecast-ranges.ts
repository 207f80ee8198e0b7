// Share of truths inside the 50 and 80 % ranges of timeToLimit(), and where the median lies, on invented ramps.
import process from 'node:process';
import { timeToLimit } from '../../analysis/forecast/time-to-limit.ts';
import { drawRamp, type Ramp } from '../analysis/forecast/ramps.ts';

const DAY_MS = 86_400_000;
const RUNS = Number(process.argv[2] ?? 1000);

const ASKED: readonly (readonly [kind: Ramp['kind'], asLog: boolean])[] = [['steady', false], ['accelerating', false], ['decelerating', false], ['exponential', false], ['exponential', true], ['flat', false]];

for (const [kind, asLog] of ASKED) {
  const counts = { asked: 0, in50: 0, in80: 0, early: 0, late: 0, nothing: 0 };
  const ratios: number[] = [];
  for (let seed = 1; seed <= RUNS; seed++) {
    const { ramp, scatter, seenDays, values } = drawRamp(kind, seed);
    const truth = ramp.crossing - seenDays;
    if (truth <= 0 || (asLog && values.some((value) => value <= 0))) continue;
    const answer = timeToLimit({ points: values.map((value, i) => ({ atMs: (i + 0.5) * DAY_MS, value: asLog ? Math.log(value) : value, se: asLog ? scatter / value : scatter / 2 })), limit: asLog ? 0 : 1, side: 'above', nowMs: seenDays * DAY_MS, horizonDays: 365 });
    if (answer === undefined) continue;
    counts.asked++;
    const day = (ms: number | null): number => (ms === null ? Infinity : ms / DAY_MS - seenDays);
    const { p10, p25, p50, p75, p90 } = answer.crossesMs;
    const held = truth > 365 ? Infinity : truth;
    if (day(p10) <= held && held <= day(p90)) counts.in80++;
    if (day(p25) <= held && held <= day(p75)) counts.in50++;
    if (held < day(p10)) counts.early++;
    if (held > day(p90)) counts.late++;
    if (p10 === null) counts.nothing++;
    if (p50 !== null) ratios.push(day(p50) / truth);
  }
  ratios.sort((a, b) => a - b);
  const share = (count: number): string => `${((100 * count) / counts.asked).toFixed(1)} %`;
  const ratio = (p: number): string => (ratios[Math.floor(p * (ratios.length - 1))] ?? NaN).toFixed(2);
  console.log(`${(asLog ? `${kind}, log` : kind).padEnd(17)} asked ${counts.asked}  in 50 % range ${share(counts.in50)}  in 80 % range ${share(counts.in80)}  before 10 % ${share(counts.early)}  after 90 % ${share(counts.late)}  no end in sight ${share(counts.nothing)}  median/truth 10/50/90 % ${ratio(0.1)} ${ratio(0.5)} ${ratio(0.9)}`);
}
