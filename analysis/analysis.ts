import { type AnalysisSettings, hashOfSettings } from '../shared/analysis-settings.ts';
import type { Channel } from '../shared/channels.ts';
import type { DayRow } from '../shared/cycle.ts';
import type { Entry } from '../shared/entry.ts';
import type { RankingReport } from '../shared/finding.ts';
import { type GeneratorKey, splitGeneratorKey } from '../shared/ids.ts';
import type { Log } from '../shared/log.ts';
import type { LogEvent, PresenceEvent } from '../shared/log-event.ts';
import type { ReadingBatch } from '../shared/reading-batch.ts';
import { generatorsOf, type RegisteredGenerator, type RegistryChange, unclaimedGenerator } from '../shared/registry.ts';
import type { ReadingStore } from '../shared/store/reading-store.ts';
import type { HotState, RecordStore } from '../shared/store/record-store.ts';
import { isoFromMs, tickAfter, TICK_MS } from '../shared/time.ts';
import type { Waiting } from './generator-fold.ts';
import { ClosedFindings } from './closed-findings.ts';
import { beginsAnew, doneWith } from './how-far-back.ts';
import { GeneratorWatch, type WatchOutput, type WatchState } from './generator-watch.ts';
import { type FleetLives, fleetLives } from './forecast/fleet-lives.ts';
import { looksDue } from './look-back.ts';
import { loadPast, type TimedEvent } from './past.ts';
import { rankStandings } from './rank.ts';
import { ResultLot } from './result-lot.ts';
import { readFold } from './saved-state.ts';
import { type Reviewer, startReviewer } from './reviews.ts';
import { standingOf } from './standing.ts';

export type AnalysisParams = {
  readonly records: RecordStore;
  readonly readings: Pick<ReadingStore, 'byDeviceTime' | 'byReceipt'>;
  readonly settings: AnalysisSettings;
  readonly log: Log;
  /** Called after the results of a tick are kept. */
  readonly onTick?: (tickMs: number) => void;
  /** Nothing received at or after this is folded: a replay until a time. */
  readonly untilMs?: number;
};

export type Analysis = {
  /** Hand over what happened, in order of receipt. Ticks that its times pass are run first. */
  feed(event: LogEvent): Promise<void>;
  /** Nothing more will come that was received before this: runs the ticks up to it and keeps their results. */
  advanceTo(receivedMs: number): Promise<void>;
  lastTickMs(): number;
  report(): RankingReport;
  /** Which readings may be forgotten: for each generator the device time through which no fold will ask for them again. */
  doneWith(): Promise<ReadonlyMap<GeneratorKey, number>>;
  /** Save everything, so that the next start need not fold again. */
  save(): Promise<void>;
};

/**
 * Open the analysis: restore what was saved and fold what was received since.
 *
 * Live, after a restart, and in a replay of the exported log the findings are the same, because all three are this fold over
 * events in order of receipt, with a tick on every whole 10 minutes of received time (design, section 4.3).
 */
export async function openAnalysis(params: AnalysisParams): Promise<Analysis> {
  const engine = new Engine(params);
  await engine.restore();
  return engine;
}

class Engine implements Analysis {
  readonly #params: AnalysisParams;
  readonly #settingsHash: string;
  readonly #watches = new Map<GeneratorKey, GeneratorWatch>();
  readonly #registered = new Map<GeneratorKey, RegisteredGenerator>();
  readonly #closed = new ClosedFindings();
  /** Everything received before it is in the saved state of the generator; restoring skips it. */
  readonly #savedMs = new Map<GeneratorKey, number>();
  #events: TimedEvent[] = [];
  #tickMs = 0;
  /** The last tick that the report is of. */
  #keptTickMs = 0;
  readonly #lot = new ResultLot();
  readonly #reviewer: Reviewer;
  #fleet: FleetLives | undefined;
  #report: RankingReport = { at: null, ranking: [], findings: [] };

  constructor(params: AnalysisParams) {
    this.#params = params;
    this.#settingsHash = hashOfSettings(params.settings);
    this.#reviewer = startReviewer(params);
  }

  lastTickMs(): number {
    return this.#tickMs;
  }

  report(): RankingReport {
    return this.#report;
  }

  async feed(event: LogEvent): Promise<void> {
    if (event.kind === 'readings') await this.#feedReadings(event.batch);
    else {
      const timed: TimedEvent = event.kind === 'presence' ? { ...event, atMs: event.event.atMs } : event;
      await this.#passTicks(timed.atMs);
      this.#events.push(timed);
    }
    if (this.#lot.isFull) await this.#keepResults();
  }

  async advanceTo(receivedMs: number): Promise<void> {
    await this.#passTicks(receivedMs);
    // Ticks also pass as readings are fed, and what they found is written here.
    if (this.#tickMs > this.#keptTickMs) await this.#keep();
  }

  async save(): Promise<void> {
    for (const watch of this.#watches.values()) this.#saveHot(watch);
    await this.#keep();
  }

  async doneWith(): Promise<ReadonlyMap<GeneratorKey, number>> {
    await this.#keepResults();
    return doneWith(this.#watches.values(), this.#params.records);
  }

  async #feedReadings(batch: ReadingBatch): Promise<void> {
    const { series, seriesIndex, atMs, value, receivedMs } = batch;
    const watches = series.map((one) => this.#watchOf(one.generator));
    const saved = series.map((one) => this.#savedMs.get(one.generator) ?? 0);
    const channels: Channel[] = series.map((one) => one.channel);
    let nextTickMs = this.#nextTickMs(receivedMs[0] ?? 0);
    for (let row = 0; row < atMs.length; row += 1) {
      const received = receivedMs[row]!;
      if (received >= nextTickMs) {
        await this.#passTicks(received);
        nextTickMs = this.#tickMs + TICK_MS;
      }
      const index = seriesIndex[row]!;
      if (received >= saved[index]!) watches[index]!.receive(channels[index]!, atMs[row]!, value[row]!, received);
    }
  }

  #nextTickMs(receivedMs: number): number {
    if (this.#tickMs === 0) this.#tickMs = tickAfter(receivedMs) - TICK_MS;
    return this.#tickMs + TICK_MS;
  }

  /** Run every tick at or before `receivedMs`; gives whether there was one. */
  async #passTicks(receivedMs: number): Promise<boolean> {
    let nextTickMs = this.#nextTickMs(receivedMs);
    let any = false;
    while (nextTickMs <= receivedMs && nextTickMs <= (this.#params.untilMs ?? Infinity)) {
      await this.#tick(nextTickMs);
      any = true;
      nextTickMs += TICK_MS;
    }
    return any;
  }

  async #tick(tickMs: number): Promise<void> {
    const goBack = this.#applyEvents(tickMs);
    for (const watch of this.#watches.values()) {
      if ((this.#savedMs.get(watch.key) ?? 0) >= tickMs) continue;
      const asked = goBack.get(watch.key);
      const output = asked === undefined ? watch.tick(tickMs, () => this.#neighboursOf(watch)) : { ...EMPTY_OUTPUT, lateMs: asked };
      const done = output.lateMs === null ? output : await this.#foldAgain(watch, output.lateMs, tickMs);
      this.#collect(watch, done, tickMs);
      if (watch.entries.length > 0) await this.#lookBack(watch, done.dayClosed, tickMs);
    }
    this.#tickMs = tickMs;
    this.#params.onTick?.(tickMs);
  }

  /** The others of the same site, in order of their names. */
  #neighboursOf({ key }: GeneratorWatch): GeneratorWatch[] {
    const { site } = splitGeneratorKey(key);
    return [...this.#watches.values()].filter((one) => one.key !== key && splitGeneratorKey(one.key).site === site).sort((a, b) => (a.key < b.key ? -1 : 1));
  }

  /** Registry, entries, closings, presence and refusals that were received before the tick; gives where folds must go back. */
  #applyEvents(tickMs: number): Map<GeneratorKey, number> {
    const goBack = new Map<GeneratorKey, number>();
    if (this.#events.length === 0) return goBack;
    const ready = this.#events.filter((event) => event.atMs < tickMs);
    this.#events = this.#events.filter((event) => event.atMs >= tickMs);
    for (const event of ready) this.#apply(event, goBack);
    return goBack;
  }

  #apply(event: TimedEvent, goBack: Map<GeneratorKey, number>): void {
    if (event.kind === 'registry') this.#register(event.change);
    else if (event.kind === 'presence') this.#hearPresence(event.event);
    else if (event.kind === 'entry') {
      const key = `${event.entry.site}/${event.entry.generator}` as GeneratorKey;
      const backMs = this.#watchOf(key).enter(event.entry);
      if (backMs !== null) goBack.set(key, Math.min(backMs, goBack.get(key) ?? Infinity));
    } else if (event.kind === 'closing') for (const watch of this.#watches.values()) watch.closedByPerson(event.action.finding);
    else if (event.reason === 'out-of-range') this.#watchOf(event.generator).refuse(event.count, event.atMs);
  }

  #register(change: RegistryChange): void {
    for (const registered of generatorsOf({ sites: [change.site] })) {
      this.#registered.set(registered.key, registered);
      this.#watches.get(registered.key)?.know(registered, change.validFromMs);
      this.#watchOf(registered.key);
    }
  }

  #hearPresence(event: PresenceEvent): void {
    for (const key of event.generators) {
      const watch = this.#watches.get(key);
      if (watch !== undefined) watch.gatewayOffline = !event.online;
    }
  }

  #watchOf(key: GeneratorKey): GeneratorWatch {
    let watch = this.#watches.get(key);
    if (watch === undefined) {
      watch = new GeneratorWatch({ registered: this.#registered.get(key) ?? unclaimedGenerator(key), entries: [], settings: this.#params.settings, settingsHash: this.#settingsHash });
      this.#watches.set(key, watch);
    }
    return watch;
  }

  /** A late reading or an entry about the past: from the checkpoint before it, with all that is known now. */
  async #foldAgain(watch: GeneratorWatch, fromMs: number, tickMs: number): Promise<WatchOutput> {
    await this.#keepResults();
    const checkpoint = await this.#params.records.checkpointBefore(watch.key, fromMs);
    if (checkpoint === undefined && !beginsAnew(watch)) {
      this.#params.log.warn('Readings older than the oldest checkpoint were kept, but the analysis does not go back for them', { generator: watch.key, fromMs });
      watch.dropBefore(watch.fold.state.frontierMs);
      return watch.tick(tickMs, () => this.#neighboursOf(watch));
    }
    const state = checkpoint === undefined ? undefined : readFold(checkpoint.state);
    const batch = await this.#params.readings.byDeviceTime({ generator: watch.key, fromMs: state === undefined ? 0 : state.frontierMs + 1, toMs: Number.MAX_SAFE_INTEGER, receivedBeforeMs: tickMs });
    this.#lot.replace(watch.key, state?.frontierMs ?? 0);
    return watch.refold(state, waitingOf(batch), tickMs, () => this.#neighboursOf(watch));
  }

  #collect(watch: GeneratorWatch, output: WatchOutput, tickMs: number): void {
    this.#lot.add(output);
    for (const finding of output.findings) if (finding.state === 'closed') this.#closed.add(finding);
    if (!output.dayClosed) return;
    this.#lot.addCheckpoint({ generator: watch.key, frontierMs: watch.fold.state.frontierMs, tickMs, state: watch.checkpoint() });
    this.#saveHot(watch, tickMs);
  }

  /** Whether the visits helped, where a look at them is due. */
  async #lookBack(watch: GeneratorWatch, dayClosed: boolean, tickMs: number): Promise<void> {
    const looks = await looksDue({
      generator: watch.key, entries: watch.entries, history: watch.fold.history, findings: [...watch.openFindings, ...this.#closed.of(watch.key)], tickMs, dayClosed,
      cycles: async (fromMs) => {
        await this.#keepResults();
        return this.#params.records.cycles({ generator: watch.key, fromMs, toMs: tickMs });
      },
    });
    this.#lot.addLooks(looks);
  }

  #saveHot(watch: GeneratorWatch, tickMs = this.#tickMs): void {
    if (tickMs > 0) this.#lot.addHotState({ generator: watch.key, tickMs, state: watch.save() });
  }

  /** Write what the ticks put out, with the report made anew. */
  async #keep(): Promise<void> {
    if (this.#tickMs === 0) return;
    this.#report = this.#makeReport(this.#tickMs);
    this.#keptTickMs = this.#tickMs;
    for (const watch of this.#watches.values()) this.#lot.addDays(watch.today());
    await this.#keepResults(this.#report);
  }

  async #keepResults(report?: RankingReport): Promise<void> {
    const reviews = report === undefined ? [] : await this.#reviewer.review(this.#watches.values(), this.#tickMs);
    const lot = this.#lot.take();
    await this.#params.records.saveAnalysis({ ...lot, tickMs: this.#tickMs, reviews, ...(report === undefined ? {} : { report }) });
    // What a saved state holds needs no mark; an older mark than the save's tick goes.
    for (const tickMs of new Set(lot.hotStates.map((hot) => hot.tickMs))) {
      await this.#params.records.clearDirty(lot.hotStates.filter((hot) => hot.tickMs === tickMs).map((hot) => hot.generator), tickMs);
    }
  }

  #makeReport(tickMs: number): RankingReport {
    this.#fleet = fleetLives([...this.#watches.values()].flatMap((watch) => watch.judged ?? []), this.#fleet);
    const standings = [...this.#watches.values()].map((watch) => standingOf(watch, tickMs, this.#params.settings, this.#fleet));
    const open = [...this.#watches.values()].flatMap((watch) => watch.openFindings);
    const findings = [...open, ...this.#closed.all()].sort((a, b) => (a.openedAt < b.openedAt ? 1 : a.openedAt > b.openedAt ? -1 : a.id < b.id ? -1 : 1));
    return { at: isoFromMs(tickMs), ranking: rankStandings(standings, tickMs), findings };
  }

  /** Load what was saved, then fold everything received since the oldest save. */
  async restore(): Promise<void> {
    const { records, readings } = this.#params;
    const past = await loadPast(records);
    for (const registered of past.registered) this.#registered.set(registered.key, registered);
    for (const finding of past.closed) this.#closed.add(finding);
    for (const { hot, state, history } of past.saved) this.#restoreOne(hot, state, history);
    for (const key of this.#registered.keys()) this.#watchOf(key);
    for (const entry of past.entries) this.#knowOrQueue(entry);
    for (const { hot } of past.saved) this.#watches.get(hot.generator)!.recall(hot.tickMs);
    for (const event of past.presenceBefore) this.#hearPresence(event);
    this.#events = [...this.#events, ...past.events].sort((a, b) => a.atMs - b.atMs);
    this.#tickMs = past.fromMs;
    for await (const batch of readings.byReceipt({ fromMs: past.fromMs, toMs: Number.MAX_SAFE_INTEGER })) await this.feed({ kind: 'readings', batch });
    if (past.lastTickMs > 0) await this.#passTicks(past.lastTickMs);
    if (this.#tickMs > 0) await this.#keep();
  }

  #restoreOne(hot: HotState, state: WatchState, history: readonly DayRow[]): void {
    const registered = this.#registered.get(hot.generator) ?? unclaimedGenerator(hot.generator);
    this.#watches.set(hot.generator, new GeneratorWatch({ registered, entries: [], settings: this.#params.settings, settingsHash: this.#settingsHash, state, history }));
    this.#savedMs.set(hot.generator, hot.tickMs);
  }

  /** An entry known before a generator's save is in its state's past; a later one acts at its tick again. */
  #knowOrQueue(entry: Entry): void {
    const key = `${entry.site}/${entry.generator}` as GeneratorKey;
    const recordedMs = Date.parse(entry.recordedAt);
    const watch = this.#watches.get(key);
    if (watch !== undefined && recordedMs < (this.#savedMs.get(key) ?? 0)) watch.enter(entry);
    else this.#events.push({ kind: 'entry', atMs: recordedMs, entry });
  }
}

const EMPTY_OUTPUT: WatchOutput = { days: [], cycles: [], findings: [], dayClosed: false, lateMs: null };

/** A batch of one generator as columns that wait. */
function waitingOf(batch: ReadingBatch): Waiting {
  const channels = batch.series.map((series) => series.channel);
  return { atMs: [...batch.atMs], channel: [...batch.seriesIndex].map((index) => channels[index]!), value: [...batch.value] };
}
