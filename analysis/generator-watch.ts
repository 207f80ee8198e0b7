import type { AnalysisSettings } from '../shared/analysis-settings.ts';
import type { Channel } from '../shared/channels.ts';
import type { Cycle, DayRow } from '../shared/cycle.ts';
import type { Entry } from '../shared/entry.ts';
import type { DataState, Finding } from '../shared/finding.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { RegisteredGenerator } from '../shared/registry.ts';
import { type GapState, heardAt, reportEveryS, startGaps } from '../shared/reporting.ts';
import { HOUR_MS } from '../shared/time.ts';
import { assess, type DaysJudged, judgeDays } from './causes/assess.ts';
import { byClock } from './causes/by-clock.ts';
import { calibrated } from './causes/calibrate.ts';
import type { Condition, Slot } from './causes/condition.ts';
import { exchangeCondition } from './causes/exchanged.ts';
import type { Turn } from './causes/turns.ts';
import { firstOfEachSlot, hiddenSlots } from './causes/what-hides.ts';
import { countersSetAnew } from './causes/counter-reset.ts';
import { frozenSensors, impossibleValues, silence } from './causes/data-faults.ts';
import { isUsableDay } from './causes/day-series.ts';
import { type ClockState, lookAtClock, noteFill, startClock } from './clock-watch.ts';
import { type LeftOut, quartersWithout } from './causes/left-out.ts';
import { offRiserGauges } from './causes/riser-gauges.ts';
import { SURE_DAYS } from './causes/set-point.ts';
import { exchangedWithPiping, neverReachesStart } from './causes/tank-gauge.ts';
import { dataStateOf } from './data-state.ts';
import { FRONTIER_LAG_MS, type FoldState, GeneratorFold, startFold, type Waiting } from './generator-fold.ts';
import { type BesideState, endExchange, lookBeside, type Neighbour, ownDays, startBeside, turnBefore } from './look-beside.ts';
import { noteOff, type OffTime, offEntries, WAIT_WHILE_OFF, withoutExpected } from './out-of-service.ts';
import { closeByPerson, hiddenByOpen, leftOutNow, type LedgerState, noteBelieved, reconcile, saidOpen, startLedger, unfedTimes } from './ledger.ts';

/** What is saved of a generator so that a restart goes on as if nothing had happened; plain JSON. */
export type WatchState = {
  fold: FoldState;
  ledger: LedgerState;
  gaps: GapState;
  waiting: Waiting;
  clock: ClockState;
  refusedDayMs: number;
  refused: number;
  lastHeardMs: number;
  beside: BesideState;
  /** When the registry had it out of service; absent where it never had. */
  off?: readonly OffTime[];
  /** Since when it feeds another number of risers than before; absent where it always fed the same. */
  pipedSinceMs?: number;
};

export function startWatch(): WatchState {
  return { fold: startFold(), ledger: startLedger(), gaps: startGaps(), waiting: { atMs: [], channel: [], value: [] }, clock: startClock(), refusedDayMs: 0, refused: 0, lastHeardMs: 0, beside: startBeside() };
}

/** What a tick of one generator put out. */
export type WatchOutput = { readonly days: readonly DayRow[]; readonly cycles: readonly Cycle[]; readonly findings: readonly Finding[]; readonly dayClosed: boolean; /** Device time before which the fold must go back, as a late reading or entry asks. */ readonly lateMs: number | null };

/** After so many looks at the same frontier with nothing told what the clock says is settled: a generator that is silent for months costs little. */
const SETTLED_TIMES = 3;

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
  #todayOfMs = 0;
  #conditions: readonly Condition[] = [];
  #assessed: readonly Condition[] = [];
  /** What the clock said of what, and how many times in a row with nothing new folded nor told. */
  #byClockSaid: { readonly of: string; times: number; readonly conditions: readonly Condition[] } = { of: '', times: 0, conditions: [] };
  /** What days are judged without: as the ledger has it since the last tick. */
  #leftOut: readonly LeftOut[];

  constructor(params: { registered: RegisteredGenerator; entries: readonly Entry[]; settings: AnalysisSettings; settingsHash: string; state?: WatchState; history?: readonly DayRow[] }) {
    this.key = params.registered.key;
    this.registered = params.registered;
    this.entries = [...params.entries];
    this.#settings = params.settings;
    this.#settingsHash = params.settingsHash;
    this.#state = params.state ?? startWatch();
    this.#leftOut = leftOutNow(this.#state.ledger);
    this.#noteOff(0);
    this.fold = new GeneratorFold(this.registered, this.#logged, this.#state.fold, params.history);
  }

  get openFindings(): readonly Finding[] {
    return Object.values(this.#state.ledger.open).map((open) => open.finding);
  }

  /** The finding about a counter that was set anew: it says nothing of the machine. */
  get counterFinding(): Finding | undefined {
    return this.#state.ledger.open.counters?.finding;
  }

  /** Conditions of the last tick, for the ranking. */
  get conditions(): readonly Condition[] {
    return this.#conditions;
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

  know(registered: RegisteredGenerator, validFromMs: number): void {
    const before = this.registered.generator.risers.length;
    // A riser more or fewer: what is drawn compares with nothing before.
    const piped = before > 0 && registered.generator.risers.length !== before && validFromMs > (this.fold.history[0]?.startMs ?? Infinity);
    this.registered = registered;
    this.#noteOff(validFromMs);
    this.fold.know(registered, this.#logged);
    if (piped) {
      this.#state.pipedSinceMs = validFromMs;
      this.#beginAnew();
    } else this.#forget();
  }

  /** Take the registry's word whether it is in service. */
  #noteOff(sinceMs: number): void {
    const off = noteOff(this.#state.off ?? [], this.registered.generator.outOfService, sinceMs);
    if (off.length > 0) this.#state.off = off;
  }

  /** What people logged, and when the registry had it out of service. */
  get #logged(): readonly Entry[] {
    return this.#state.off === undefined ? this.entries : [...this.entries, ...offEntries(this.key, this.#state.off)];
  }

  /** An entry became known; gives the device time from which the fold must be done again, or null. */
  enter(entry: Entry): number | null {
    const known = this.entries.findIndex((one) => one.id === entry.id);
    if (known >= 0) this.entries.splice(known, 1);
    this.entries.push(entry);
    this.entries.sort((a, b) => Date.parse(a.startedAt) - Date.parse(b.startedAt) || (a.id < b.id ? -1 : 1));
    this.fold.know(this.registered, this.#logged);
    this.#forget();
    const startedMs = Date.parse(entry.startedAt);
    return entry.kind !== 'set-point' && startedMs < this.fold.state.frontierMs ? startedMs : null;
  }

  closedByPerson(findingId: string): void {
    if (this.#state.ledger.open.sensor?.finding.id === findingId && endExchange(this.#state.beside, this.fold.state.frontierMs)) this.#beginAnew();
    closeByPerson(this.#state.ledger, findingId, this.fold.state.frontierMs);
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

  /** Under this name speaks another one than before: what is usual in a cycle is learned anew, and days are sorted out. */
  #beginAnew(): void {
    this.fold.forgetCycles();
    this.#forget();
  }

  turnBefore(tickMs: number): Turn | null {
    return turnBefore(this.#state.beside, tickMs);
  }

  /** Fold what waits up to the frontier. With `lateMs` set nothing was folded: the caller goes back first and calls `refolded`. */
  tick(tickMs: number, neighbours: () => readonly Neighbour[]): WatchOutput {
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
    if (lookBeside(this.#state.beside, this.fold, { tickMs, dayClosed: output.dayClosed, neighbours })) this.#beginAnew();
    return this.#judge(tickMs, output);
  }

  /**
   * Fold again from a checkpoint with all that is known now. `readings` hold everything after the checkpoint's frontier
   * that was received before the tick, in order of device time and channel.
   */
  refold(checkpoint: FoldState | undefined, readings: Waiting, tickMs: number, neighbours: () => readonly Neighbour[]): WatchOutput {
    this.#absorb();
    const frontier = this.fold.state.frontierMs;
    this.fold.goBack(checkpoint ?? startFold());
    this.#forget();
    this.#state.waiting = readings;
    let newest = frontier;
    for (const atMs of readings.atMs) if (atMs - FRONTIER_LAG_MS > newest) newest = atMs - FRONTIER_LAG_MS;
    const output = this.#foldWaiting(newest);
    const changed = lookBeside(this.#state.beside, this.fold, { tickMs, dayClosed: true, neighbours });
    if (changed || this.#state.beside.exchange !== null) this.#beginAnew();
    return this.#judge(tickMs, output);
  }

  /** Readings that can't be folded any more, because no checkpoint is old enough, are left out of the fold. */
  dropBefore(ms: number): void {
    const { waiting } = this.#state;
    this.#state.waiting = rowsOf(waiting, waiting.atMs.flatMap((atMs, index) => (atMs > ms ? [index] : [])));
  }

  #foldWaiting(frontierMs: number): WatchOutput {
    const { waiting } = this.#state;
    const { atMs, channel } = waiting;
    const ready: number[] = [];
    const later: number[] = [];
    for (let index = 0; index < atMs.length; index += 1) (atMs[index]! <= frontierMs ? ready : later).push(index);
    // A difference of two times would be a number on the heap at each comparison.
    ready.sort((a, b) => (atMs[a] === atMs[b] ? (channel[a]! < channel[b]! ? -1 : channel[a]! > channel[b]! ? 1 : 0) : atMs[a]! < atMs[b]! ? -1 : 1));
    this.fold.fold(waiting, ready, frontierMs);
    this.#state.waiting = rowsOf(waiting, later);
    const { days, cycles, quarterClosed, dayClosed } = this.fold.take();
    if (dayClosed) this.#forget();
    if (quarterClosed) this.#stale = true;
    return { days, cycles, findings: [], dayClosed, lateMs: null };
  }

  #forget(): void {
    this.#byClockSaid.times = 0;
    this.#daysStale = true;
    this.#stale = true;
  }

  #judge(tickMs: number, output: WatchOutput): WatchOutput {
    const hidden = this.#believe(tickMs);
    const { ledger } = this.#state;
    if (this.#conditions.length === 0 && Object.keys(ledger.open).length === 0 && Object.keys(ledger.closedByPerson).length === 0) return output;
    const findings = reconcile(ledger, {
      generator: this.key,
      tickMs,
      conditions: this.#conditions,
      hidden,
      judged: (slot) => this.#judged(slot),
      settingsHash: this.#settingsHash,
      servedSinceMs: (fromMs) => this.entries.some((entry) => entry.kind === 'service' && Date.parse(entry.recordedAt) >= fromMs),
      off: this.registered.generator.outOfService,
      timeZone: this.registered.site.timeZone,
    });
    return findings.length === 0 ? output : { ...output, findings };
  }

  /** Work out what holds at this tick; gives the slots that something else hides. */
  #believe(tickMs: number): ReadonlySet<Slot> {
    const { hidden, believed } = this.#believeWithout(tickMs);
    noteBelieved(this.#state.ledger, believed, this.fold.state.frontierMs);
    const leftOut = leftOutNow(this.#state.ledger);
    if (JSON.stringify(leftOut) === JSON.stringify(this.#leftOut)) return hidden;
    // What was believed until now is over: days are judged again without its time before anything is made of them.
    this.#leftOut = leftOut;
    this.#forget();
    return this.#believeWithout(tickMs).hidden;
  }

  /** What holds, judged without what is left out now. */
  #believeWithout(tickMs: number): { readonly hidden: ReadonlySet<Slot>; readonly believed: readonly Condition[] } {
    const { fold } = this;
    if (this.#stale || this.judged === undefined) {
      if (this.#daysStale || this.judged === undefined) this.judged = judgeDays({ rows: ownDays(this.#state.beside, fold.history), leftOut: this.#leftOut, entries: this.#logged, registered: this.registered, pipedSinceMs: this.#state.pipedSinceMs, settings: this.#settings, fills: this.#state.clock.fills, frozen: Object.keys(fold.state.frozen) as Channel[] });
      this.#stale = this.#daysStale = false;
      this.#assessed = [...assess(this.judged, quartersWithout(fold.state.openQuarters, this.#leftOut)), ...frozenSensors(fold.state.frozen, fold.state.spanDays), ...neverReachesStart(fold.state.spanDays, this.judged.rows, this.registered), ...exchangedWithPiping(fold.state.spanDays, this.judged.rows, this.registered), ...offRiserGauges(fold.state.risersOff, fold.state.spanDays, this.entries)];
    }
    if (this.registered.generator.outOfService) {
      this.#conditions = [];
      return { hidden: new Set(WAIT_WHILE_OFF), believed: [] };
    }
    const { exchange } = this.#state.beside;
    const believed = [...(exchange === null ? [] : [exchangeCondition(exchange, fold.state.frontierMs, this.registered.site.timeZone)]), ...this.#assessed, ...this.#byClock(), ...silence(tickMs, { lastHeardMs: this.#state.lastHeardMs, reportEveryS: this.reportEveryS(), gatewayOffline: this.gatewayOffline, sees: this.judged.sees }), ...impossibleValues(this.#refusedOn(tickMs), this.#state.refusedDayMs), ...countersSetAnew(fold.state.counters, fold.state.frontierMs, this.registered.site.timeZone)];
    const hidden = hiddenSlots(believed, new Set(Object.keys(this.#state.ledger.open) as Slot[]), hiddenByOpen(this.#state.ledger));
    this.#conditions = firstOfEachSlot(believed.filter((condition) => !hidden.has(condition.slot))).map(calibrated);
    return { hidden, believed };
  }

  /** After a restart: work out again what held at the tick of the save. Changes no finding. */
  recall(tickMs: number): void {
    this.#believeWithout(tickMs);
  }

  #refusedOn(tickMs: number): number {
    return tickMs - this.#state.refusedDayMs < 24 * HOUR_MS ? this.#state.refused : 0;
  }

  /** Whether enough was seen to say that a slot's condition is over. */
  #judged(slot: Slot): boolean {
    const { judged } = this;
    // Days before a service say nothing of the band since, nor do days without a start.
    if (slot === 'set-point') return judged !== undefined && judged.rows.filter((row) => row.startMs >= judged.anewMs && row.cutInKPa !== null && row.cutOutKPa !== null && isUsableDay(row)).length >= SURE_DAYS;
    if (slot !== 'demand' && slot !== 'delivery' && slot !== 'duty') return true;
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

  #byClock(): readonly Condition[] {
    const { frontierMs } = this.fold.state;
    if (frontierMs === 0) return [];
    const { clock, ledger } = this.#state;
    const [unfed, said] = [unfedTimes(ledger), saidOpen(ledger)];
    const of = JSON.stringify([frontierMs, unfed, said]);
    const before = this.#byClockSaid;
    const times = before.of === of ? before.times + 1 : 0;
    if (times > SETTLED_TIMES) return before.conditions;
    const { present, normal } = lookAtClock(clock, this.fold.state, { registered: this.registered, judged: this.judged, unfed, said });
    const conditions = withoutExpected(byClock(present, normal, this.#logged), this.#logged, frontierMs);
    if (noteFill(clock, present, normal, conditions.some((condition) => condition.cause === 'not-starting'))) this.#forget();
    this.#byClockSaid = { of, times, conditions };
    return conditions;
  }

  /** The days that are not closed yet, as far as they are folded; provisional, for the pages. None where nothing new was folded since. */
  today(): DayRow[] {
    const { frontierMs } = this.fold.state;
    if (frontierMs === this.#todayOfMs) return [];
    this.#todayOfMs = frontierMs;
    return this.fold.openDays();
  }

  dataState(nowMs: number): DataState {
    const noPower = this.#conditions.some((condition) => condition.slot === 'power');
    return dataStateOf({ registered: this.registered, entries: this.entries, history: this.fold.history, noPower, learning: this.judged?.learning ?? true, lastHeardMs: this.#state.lastHeardMs, reportEveryS: this.reportEveryS() }, nowMs);
  }
}

function rowsOf({ atMs, channel, value }: Waiting, rows: readonly number[]): Waiting {
  return { atMs: rows.map((row) => atMs[row]!), channel: rows.map((row) => channel[row]!), value: rows.map((row) => value[row]!) };
}
