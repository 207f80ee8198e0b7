import type { AnalysisSettings } from '../shared/analysis-settings.ts';
import type { Channel } from '../shared/channels.ts';
import type { Cycle, DayRow } from '../shared/cycle.ts';
import type { Entry } from '../shared/entry.ts';
import type { DataState, Finding } from '../shared/finding.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { RegisteredGenerator } from '../shared/registry.ts';
import { HOUR_MS } from '../shared/time.ts';
import { assess, type DaysJudged, judgeDays } from './causes/assess.ts';
import { byClock, LET_DOWN, type Normal, type Present, SWITCH_TOLERANCE_KPA } from './causes/by-clock.ts';
import type { Condition, Slot } from './causes/condition.ts';
import type { Fill } from './causes/day-series.ts';
import { frozenSensors, impossibleValues, silence } from './causes/data-faults.ts';
import { FRONTIER_LAG_MS, type FoldState, GeneratorFold, startFold, type Waiting } from './generator-fold.ts';
import { closeByPerson, type LedgerState, reconcile, startLedger } from './ledger.ts';
import { type GapState, heardAt, reportEveryS, startGaps } from './report-gaps.ts';

/** A state of `running` is not believed longer than this without being repeated (design, section 5). */
const STATE_HOLDS_MS = 75 * 60_000;

const MOST_FILLS = 12;

/** What is saved of a generator so that a restart goes on as if nothing had happened; plain JSON. */
export type WatchState = {
  fold: FoldState;
  ledger: LedgerState;
  gaps: GapState;
  waiting: Waiting;
  /** Since when the tank has been below cut-in without a run. */
  belowSinceMs: number | null;
  /** Tank and piping pressure every 10 minutes of the last hour: [at, tank, piping]. */
  trail: [atMs: number, tankKPa: number | null, systemKPa: number | null][];
  /** The last long runs that filled something up. */
  fills: Fill[];
  refusedDayMs: number;
  refused: number;
  lastHeardMs: number;
};

export function startWatch(): WatchState {
  return { fold: startFold(), ledger: startLedger(), gaps: startGaps(), waiting: { atMs: [], channel: [], value: [] }, belowSinceMs: null, trail: [], fills: [], refusedDayMs: 0, refused: 0, lastHeardMs: 0 };
}

/** What a tick of one generator put out. */
export type WatchOutput = { readonly days: readonly DayRow[]; readonly cycles: readonly Cycle[]; readonly findings: readonly Finding[]; readonly dayClosed: boolean; /** Device time before which the fold must go back, as a late reading or entry asks. */ readonly lateMs: number | null };

const NOTHING: WatchOutput = { days: [], cycles: [], findings: [], dayClosed: false, lateMs: null };

/** Everything analysis keeps of one generator: the fold, the present assessment, the findings, and when it was heard. */
export class GeneratorWatch {
  readonly key: GeneratorKey;
  registered: RegisteredGenerator;
  readonly entries: Entry[];
  readonly fold: GeneratorFold;
  /** What follows from the closed days; made anew when one closes or somebody tells us something. */
  judged: DaysJudged | undefined;
  /** Set by presence: the gateway that serves it said that it is gone. */
  gatewayOffline = false;
  #state: WatchState;
  #incoming: Waiting & { receivedMs: number[] } = { atMs: [], channel: [], value: [], receivedMs: [] };
  readonly #settings: AnalysisSettings;
  readonly #settingsHash: string;
  #stale = true;
  #daysStale = true;
  #restOf: DaysJudged | undefined;
  #restS = 0;
  #conditions: readonly Condition[] = [];
  #assessed: readonly Condition[] = [];

  constructor(params: { registered: RegisteredGenerator; entries: readonly Entry[]; settings: AnalysisSettings; settingsHash: string; state?: WatchState; history?: readonly DayRow[] }) {
    this.key = params.registered.key;
    this.registered = params.registered;
    this.entries = [...params.entries];
    this.#settings = params.settings;
    this.#settingsHash = params.settingsHash;
    this.#state = params.state ?? startWatch();
    this.fold = new GeneratorFold(this.registered, this.entries, this.#state.fold, params.history);
  }

  get lastHeardMs(): number {
    return this.#state.lastHeardMs;
  }

  get openFindings(): readonly Finding[] {
    return Object.values(this.#state.ledger.open).map((open) => open.finding);
  }

  /** Conditions of the last tick, for the ranking. */
  get conditions(): readonly Condition[] {
    return this.#conditions;
  }

  get learning(): boolean {
    return this.judged?.learning ?? true;
  }

  /** The state as JSON, for a restart. */
  save(): string {
    this.#state.fold = this.fold.state;
    return JSON.stringify(this.#state);
  }

  /** The fold's state alone, for going back in device time. */
  checkpoint(): string {
    return JSON.stringify(this.fold.state);
  }

  know(registered: RegisteredGenerator): void {
    this.registered = registered;
    this.fold.know(registered, this.entries);
    this.#forget();
  }

  /** An entry became known; gives the device time from which the fold must be done again, or null. */
  enter(entry: Entry): number | null {
    const known = this.entries.findIndex((one) => one.id === entry.id);
    if (known >= 0) this.entries.splice(known, 1);
    this.entries.push(entry);
    this.entries.sort((a, b) => Date.parse(a.startedAt) - Date.parse(b.startedAt) || (a.id < b.id ? -1 : 1));
    this.fold.know(this.registered, this.entries);
    this.#forget();
    const startedMs = Date.parse(entry.startedAt);
    return entry.kind !== 'set-point' && startedMs < this.fold.state.frontierMs ? startedMs : null;
  }

  closedByPerson(findingId: string): void {
    closeByPerson(this.#state.ledger, findingId);
  }

  refuse(count: number, atMs: number): void {
    const dayMs = Math.floor(atMs / (24 * HOUR_MS)) * 24 * HOUR_MS;
    if (dayMs !== this.#state.refusedDayMs) this.#state.refused = 0;
    this.#state.refusedDayMs = dayMs;
    this.#state.refused += count;
  }

  /** A reading was received; until the next tick it is no part of the state, which a restart takes up at a tick. */
  receive(channel: Channel, atMs: number, value: number, receivedMs: number): void {
    const incoming = this.#incoming;
    incoming.atMs.push(atMs);
    incoming.channel.push(channel);
    incoming.value.push(value);
    incoming.receivedMs.push(receivedMs);
  }

  #absorb(): void {
    const { atMs, channel, value, receivedMs } = this.#incoming;
    if (atMs.length === 0) return;
    const { waiting, gaps } = this.#state;
    for (let index = 0; index < atMs.length; index += 1) {
      waiting.atMs.push(atMs[index]!);
      waiting.channel.push(channel[index]!);
      waiting.value.push(value[index]!);
      heardAt(gaps, receivedMs[index]!);
    }
    this.#state.lastHeardMs = receivedMs.at(-1)!;
    this.#incoming = { atMs: [], channel: [], value: [], receivedMs: [] };
  }

  /** Fold what waits up to the frontier. With `lateMs` set nothing was folded: the caller goes back first and calls `refolded`. */
  tick(tickMs: number): WatchOutput {
    this.#absorb();
    const { waiting } = this.#state;
    let output = NOTHING;
    if (waiting.atMs.length > 0) {
      const before = this.fold.state.frontierMs;
      let newest = before;
      let oldest = Infinity;
      for (const atMs of waiting.atMs) {
        if (atMs - FRONTIER_LAG_MS > newest) newest = atMs - FRONTIER_LAG_MS;
        if (atMs < oldest) oldest = atMs;
      }
      if (oldest <= before) return { ...NOTHING, lateMs: oldest };
      output = this.#foldWaiting(newest);
    }
    return this.#judge(tickMs, output);
  }

  /**
   * Fold again from a checkpoint with all that is known now. `readings` hold everything after the checkpoint's frontier
   * that was received before the tick, in order of device time and channel.
   */
  refold(checkpoint: FoldState | undefined, readings: Waiting, tickMs: number): WatchOutput {
    this.#absorb();
    const frontier = this.fold.state.frontierMs;
    this.fold.goBack(checkpoint ?? startFold());
    this.#forget();
    this.#state.waiting = readings;
    let newest = frontier;
    for (const atMs of readings.atMs) if (atMs - FRONTIER_LAG_MS > newest) newest = atMs - FRONTIER_LAG_MS;
    return this.#judge(tickMs, this.#foldWaiting(newest));
  }

  /** Readings that can't be folded any more, because no checkpoint is old enough, are left out of the fold. */
  dropBefore(ms: number): void {
    const kept = this.#state.waiting.atMs.flatMap((atMs, index) => (atMs > ms ? [index] : []));
    const { waiting } = this.#state;
    this.#state.waiting = { atMs: kept.map((index) => waiting.atMs[index]!), channel: kept.map((index) => waiting.channel[index]!), value: kept.map((index) => waiting.value[index]!) };
  }

  #foldWaiting(frontierMs: number): WatchOutput {
    const { waiting } = this.#state;
    const ready: number[] = [];
    const later: number[] = [];
    for (let index = 0; index < waiting.atMs.length; index += 1) (waiting.atMs[index]! <= frontierMs ? ready : later).push(index);
    ready.sort((a, b) => waiting.atMs[a]! - waiting.atMs[b]! || (waiting.channel[a]! < waiting.channel[b]! ? -1 : waiting.channel[a]! > waiting.channel[b]! ? 1 : 0));
    this.fold.fold(waiting, ready, frontierMs);
    this.#state.waiting = { atMs: later.map((index) => waiting.atMs[index]!), channel: later.map((index) => waiting.channel[index]!), value: later.map((index) => waiting.value[index]!) };
    const { days, cycles, quarterClosed, dayClosed } = this.fold.take();
    if (dayClosed) this.#forget();
    if (quarterClosed) this.#stale = true;
    return { days, cycles, findings: [], dayClosed, lateMs: null };
  }

  #forget(): void {
    this.#daysStale = true;
    this.#stale = true;
  }

  #judge(tickMs: number, output: WatchOutput): WatchOutput {
    if (this.#stale) {
      this.#stale = false;
      if (this.#daysStale || this.judged === undefined) this.judged = judgeDays({ rows: this.fold.history, entries: this.entries, registered: this.registered, settings: this.#settings, fills: this.#state.fills });
      this.#daysStale = false;
      this.#assessed = [...assess(this.judged, this.fold.state.openQuarters), ...frozenSensors(this.fold.state.frozen, this.fold.state.spanDays)];
    }
    const believed = [...this.#assessed, ...this.#byClock(), ...silence(tickMs, this.#state.lastHeardMs, this.reportEveryS(), this.gatewayOffline), ...impossibleValues(this.#refusedOn(tickMs), this.#state.refusedDayMs)];
    const hidden = hiddenSlots(believed);
    const conditions = firstOfEachSlot(believed.filter((condition) => !hidden.has(condition.slot)));
    this.#conditions = conditions;
    const { ledger } = this.#state;
    if (conditions.length === 0 && Object.keys(ledger.open).length === 0 && Object.keys(ledger.closedByPerson).length === 0) return output;
    const findings = reconcile(ledger, {
      generator: this.key,
      tickMs,
      conditions,
      hidden,
      judged: (slot) => this.#judged(slot),
      settingsHash: this.#settingsHash,
      servedSinceMs: (fromMs) => this.entries.some((entry) => entry.kind === 'service' && Date.parse(entry.recordedAt) >= fromMs),
    });
    return findings.length === 0 ? output : { ...output, findings };
  }

  #refusedOn(tickMs: number): number {
    return tickMs - this.#state.refusedDayMs < 24 * HOUR_MS ? this.#state.refused : 0;
  }

  /** Whether enough was seen to say that a slot's condition is over. */
  #judged(slot: Slot): boolean {
    if (slot !== 'demand' && slot !== 'delivery' && slot !== 'duty') return true;
    const { judged } = this;
    if (judged === undefined) return false;
    const names = slot === 'delivery' ? (['delivery', 'elementDrop', 'nitrogen'] as const) : ([slot] as const);
    return names.every((name) => {
      const epoch = judged.epochs.get(name);
      return epoch === undefined || epoch.points.filter((point) => point.startMs >= epoch.watchFromMs).length >= 3;
    });
  }

  reportEveryS(): number {
    return reportEveryS(this.#state.gaps, this.registered.generator.reportEveryS);
  }

  #byClock(): Condition[] {
    if (this.fold.state.frontierMs === 0) return [];
    const present = this.#present();
    this.#state.belowSinceMs = present.belowSinceMs;
    const normal = this.#normal();
    this.#noteFill(present, normal);
    return byClock(present, normal, this.#lastService());
  }

  /** Remember that the piping was let down, or that a run was long enough to be a filling. */
  #noteFill(present: Present, normal: Normal): void {
    const { fills } = this.#state;
    const letDown = present.systemKPa !== null && normal.systemKPa !== null && present.systemKPa < LET_DOWN * normal.systemKPa && this.fold.state.system![1] > present.frontierMs - HOUR_MS;
    const longRun = present.running === true && present.sinceMs !== null && present.frontierMs - present.sinceMs > Math.max(HOUR_MS, 3000 * (normal.cycles.usual?.longestRunS ?? 3600));
    if (!letDown && !(longRun && present.filling)) return;
    const last = fills.at(-1);
    if (last !== undefined && present.frontierMs - last[1] < 12 * HOUR_MS) fills[fills.length - 1] = [last[0], present.frontierMs, last[2] || letDown];
    else fills.push([longRun ? present.sinceMs : present.frontierMs, present.frontierMs, letDown]);
    if (fills.length > MOST_FILLS) fills.shift();
    this.#forget();
  }

  /** How tank and piping moved over the last half hour to hour, kPa. */
  #moved(frontierMs: number, tankKPa: number | null, systemKPa: number | null): { readonly tankKPa: number; readonly systemKPa: number } {
    const { trail } = this.#state;
    if (trail.length === 0 || frontierMs - trail.at(-1)![0] >= 600_000) trail.push([frontierMs, tankKPa, systemKPa]);
    while (trail.length > 7) trail.shift();
    const earlier = trail.find(([atMs]) => frontierMs - atMs <= HOUR_MS + 600_000 && frontierMs - atMs >= 1_200_000);
    const rise = (now: number | null, before: number | null | undefined): number => (now === null || before === null || before === undefined ? 0 : now - before);
    return { tankKPa: rise(tankKPa, earlier?.[1]), systemKPa: rise(systemKPa, earlier?.[2]) };
  }

  #present(): Present {
    const { frontierMs, tank, system, power, producing, running, descriptors } = this.fold.state;
    const state = producing ?? running;
    const heard = state !== null && frontierMs - state[2] <= STATE_HOLDS_MS;
    const cutInKPa = this.fold.state.cycles.usual?.startKPa ?? this.registered.generator.cutInKPa ?? null;
    const below = !(heard && state[0] === 1) && tank !== null && cutInKPa !== null && tank[0] < cutInKPa - SWITCH_TOLERANCE_KPA && power?.[0] !== 0;
    const moved = this.#moved(frontierMs, tank?.[0] ?? null, system?.[0] ?? null);
    return {
      frontierMs,
      running: heard ? state[0] === 1 : null,
      sinceMs: heard ? state[1] : null,
      heardMs: heard ? state[2] : null,
      timesSaid: heard ? state[3] : 0,
      runPeakKPa: this.fold.state.runPeakKPa,
      tankHolds: this.#tankHolds(heard ? state[1] : null),
      tankKPa: tank?.[0] ?? null,
      tankAtMs: tank?.[1] ?? null,
      belowSinceMs: below ? (this.#state.belowSinceMs ?? tank[1]) : null,
      systemKPa: system?.[0] ?? null,
      systemAtMs: system?.[1] ?? null,
      power: power === null || frontierMs - power[2] > 26 * HOUR_MS ? null : power[0] === 1,
      powerSinceMs: power?.[1] ?? null,
      filling: descriptors.run.filling || moved.tankKPa > 5 || moved.systemKPa > 2,
      falling: moved.tankKPa < -5,
      supplyOpen: this.#state.ledger.open.supply !== undefined,
    };
  }

  #normal(): Normal {
    const riser = this.registered.generator.risers[0];
    return { cycles: this.fold.state.cycles, baselineRestS: this.#baselineRestS(), systemKPa: this.judged?.epochs.get('system')?.baseline.centre ?? riser?.setKPa ?? null, lowPressureKPa: riser?.lowPressureKPa ?? null, cutInKPa: this.registered.generator.cutInKPa ?? null, cutOutKPa: this.registered.generator.cutOutKPa ?? null };
  }

  /** Whether the tank has kept all but a fifth of its usual band since the rest began. */
  #tankHolds(sinceMs: number | null): boolean | null {
    const { tank, cycles } = this.fold.state;
    const { usual } = cycles;
    if (sinceMs === null || tank === null || usual === null || usual.stopKPa === null || usual.startKPa === null) return null;
    return tank[0] > usual.stopKPa - 0.2 * (usual.stopKPa - usual.startKPa);
  }

  #baselineRestS(): number {
    const baseline = this.judged?.epochs.get('duty')?.baseline;
    if (baseline === undefined || this.judged === undefined) return 0;
    if (this.#restOf !== this.judged) {
      this.#restOf = this.judged;
      this.#restS = this.judged.rows.reduce((longest, row) => (row.startMs >= baseline.fromMs && row.endMs <= baseline.toMs ? Math.max(longest, row.longestRestS) : longest), 0);
    }
    return this.#restS;
  }

  #lastService(): Entry | undefined {
    return this.entries.findLast((entry) => entry.kind === 'service');
  }

  /** Data state; the later in the list of the design wins. */
  dataState(nowMs: number): DataState {
    if (this.registered.generator.outOfService) return 'out-of-service';
    if (this.entries.some((entry) => entry.kind !== 'service' && entry.kind !== 'set-point' && Date.parse(entry.startedAt) <= nowMs && nowMs < (entry.finishedAt === undefined ? Date.parse(entry.startedAt) + 4 * HOUR_MS : Date.parse(entry.finishedAt)))) return 'under-test';
    if (this.#conditions.some((condition) => condition.slot === 'power')) return 'no-power';
    if (this.#state.lastHeardMs === 0 || nowMs - this.#state.lastHeardMs > 3 * this.reportEveryS() * 1000) return 'not-reporting';
    if (this.#isPartlyReporting()) return 'partly-reporting';
    return this.learning ? 'learning' : 'reporting';
  }

  /** A channel that was heard on at least five of the last seven days is silent on the newest. */
  #isPartlyReporting(): boolean {
    const last = this.fold.history.slice(-8);
    const newest = last.pop();
    if (newest === undefined || last.length < 7) return false;
    const often = new Map<string, number>();
    for (const row of last) for (const channel of Object.keys(row.heard)) often.set(channel, (often.get(channel) ?? 0) + 1);
    return [...often].some(([channel, days]) => days >= 5 && newest.heard[channel as Channel] === undefined);
  }
}

/** Without power, or with a frozen gauge, what else seems to have changed is no news of its own. */
function hiddenSlots(conditions: readonly Condition[]): Set<Slot> {
  const slots = new Set(conditions.map((condition) => condition.slot));
  const hidden = new Set<Slot>();
  if (slots.has('power')) for (const slot of ['running', 'supply', 'data'] as const) hidden.add(slot);
  if (slots.has('sensor')) for (const slot of ['demand', 'delivery', 'supply'] as const) hidden.add(slot);
  if (slots.has('supply')) hidden.add('demand');
  return hidden;
}

/** One condition a slot: the first, which is the one most sure. */
function firstOfEachSlot(conditions: readonly Condition[]): Condition[] {
  const first = new Map<Slot, Condition>();
  for (const condition of conditions) if (!first.has(condition.slot)) first.set(condition.slot, condition);
  return [...first.values()];
}
