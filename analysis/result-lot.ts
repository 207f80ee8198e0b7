import type { Cycle, DayRow } from '../shared/cycle.ts';
import type { Finding } from '../shared/finding.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { Verification } from '../shared/review.ts';
import type { AnalysisResult, Checkpoint, HotState } from '../shared/store/record-store.ts';
import type { WatchOutput } from './generator-watch.ts';

/** Days and cycles that wait to be kept are written in lots: each lot is one transaction. */
const FULL = 5_000;

type Lot = Pick<AnalysisResult, 'replaced' | 'days' | 'cycles' | 'findings' | 'checkpoints' | 'hotStates' | 'verifications'>;

/** What ticks put out and no store has yet. The newest of a finding and of a hot state is enough. */
export class ResultLot {
  #days: DayRow[] = [];
  #cycles: Cycle[] = [];
  #findings = new Map<string, Finding>();
  #checkpoints: Checkpoint[] = [];
  #hotStates = new Map<GeneratorKey, HotState>();
  #replaced: { generator: GeneratorKey; fromMs: number }[] = [];
  #verifications: Verification[] = [];

  get isFull(): boolean {
    return this.#days.length + this.#cycles.length > FULL;
  }

  add(output: WatchOutput): void {
    this.addDays(output.days);
    for (const cycle of output.cycles) this.#cycles.push(cycle);
    for (const finding of output.findings) this.#findings.set(finding.id, finding);
  }

  addDays(days: readonly DayRow[]): void {
    for (const day of days) this.#days.push(day);
  }

  addCheckpoint(checkpoint: Checkpoint): void {
    this.#checkpoints.push(checkpoint);
  }

  addHotState(hot: HotState): void {
    this.#hotStates.set(hot.generator, hot);
  }

  addLooks(looks: readonly Verification[]): void {
    this.#verifications.push(...looks);
  }

  /** What is stored of the generator from this device time on is folded again. */
  replace(generator: GeneratorKey, fromMs: number): void {
    this.#replaced.push({ generator, fromMs });
  }

  take(): Lot {
    const lot: Lot = { replaced: this.#replaced, days: this.#days, cycles: this.#cycles, findings: [...this.#findings.values()], checkpoints: this.#checkpoints, hotStates: [...this.#hotStates.values()], verifications: this.#verifications };
    this.#days = [];
    this.#cycles = [];
    this.#findings = new Map();
    this.#checkpoints = [];
    this.#hotStates = new Map();
    this.#replaced = [];
    this.#verifications = [];
    return lot;
  }
}
