import { createHash } from 'node:crypto';
import { DateTime } from 'luxon';
import type { ClosingReason, Evidence, Finding } from '../shared/finding.ts';
import { splitGeneratorKey, type GeneratorKey } from '../shared/ids.ts';
import { DAY_MS, HOUR_MS, isoFromMs, MINUTE_MS } from '../shared/time.ts';
import type { SaidOpen } from './causes/clock-view.ts';
import { type Condition, sameWords, type Slot } from './causes/condition.ts';
import type { LeftOut } from './causes/left-out.ts';
import type { CycleWeek } from './causes/recent-cycles.ts';

type OpenFinding = { finding: Finding; size: number; absentSinceMs: number | null; /** Since when it is named otherwise, though less surely than it was told. */ otherSinceMs?: number; /** A gauge that drifts by itself. */ aside?: boolean; /** Times in which it said what leaves something out of what is usual; the last has no end while it still does. */ leavesOut?: OpenTime[] } & Stands;
/** What holds for as long as a finding is open, as it was said when it opened or since. */
type Stands = { hides?: readonly Slot[]; against?: readonly CycleWeek[]; /** What was found before and is put down to this one. */ supersedes?: readonly Slot[] };
type OpenTime = Omit<LeftOut, 'toMs'> & { readonly toMs: number | null };

/** What the fold remembers of its findings, plain JSON: the open one of each slot, and what a person closed there. */
export type LedgerState = {
  open: Partial<Record<Slot, OpenFinding>>;
  /** What findings that are over leave out of what is usual, the newest last; absent in what earlier builds saved. */
  leftOut?: LeftOut[];
  /** A person closed a finding while its condition went on: it comes back only when it has grown by half, or ended and come again. */
  closedByPerson: Partial<Record<Slot, number>>;
  /** When the last finding of demand closed; absent where none did, and in what earlier builds saved. */
  demandOverMs?: number;
  /** When the last finding of the supply closed; absent where none did. */
  supplyOverMs?: number;
  /** When the last finding of a compressor that runs without end closed; absent where none did. */
  endlessOverMs?: number;
  /** How many findings were opened at this tick already, so that ids differ. */
  lastOpened: { tickMs: number; count: number };
};

export function startLedger(): LedgerState {
  return { open: {}, closedByPerson: {}, lastOpened: { tickMs: 0, count: 0 } };
}

export type ReconcileParams = {
  readonly generator: GeneratorKey;
  readonly tickMs: number;
  readonly conditions: readonly Condition[];
  /** Slots that nothing can be said of now, because another fault hides them. */
  readonly hidden: ReadonlySet<Slot>;
  /** Whether there is data enough to say that a slot's condition is over. */
  readonly judged: (slot: Slot) => boolean;
  readonly settingsHash: string;
  /** A service was recorded since then (received time); null if none. */
  readonly servedSinceMs: (fromMs: number) => boolean;
  /** The generator was taken out of service: what isn't hidden is over by that. */
  readonly off: boolean;
  /** The site's, for times in words. */
  readonly timeZone: string;
};

const HISTORY_KEPT = 50;
const LEFT_OUT_KEPT = 20;
/** A band that no switch can be turned to, or that moved by a ratio. */
const SURELY_GAUGE = 0.85;
/**
 * A condition must be gone so long before its finding closes: a start that fails again, a leak that opens on every warm day
 * and a level that wanders about its limit are each one fault, and one finding. After a service, the second figure counts:
 * then it is the work that is looked at.
 */
const GONE_FOR_MS: Readonly<Record<Slot, readonly [unserved: number, served: number]>> = {
  demand: [6 * DAY_MS, DAY_MS],
  delivery: [6 * DAY_MS, DAY_MS],
  duty: [6 * DAY_MS, DAY_MS],
  running: [DAY_MS, HOUR_MS],
  supply: [12 * HOUR_MS, HOUR_MS],
  power: [20 * MINUTE_MS, 20 * MINUTE_MS],
  data: [20 * MINUTE_MS, 20 * MINUTE_MS],
  counters: [20 * MINUTE_MS, 20 * MINUTE_MS],
  sensor: [DAY_MS, DAY_MS],
  'set-point': [6 * DAY_MS, DAY_MS],
};
/** A gauge that drifts wanders about its limit as levels do. */
const DRIFT_GONE_FOR_MS = 6 * DAY_MS;
/** Some runs are whole while others are still cut short. */
const STOPS_GONE_FOR_MS = [4 * DAY_MS, DAY_MS] as const;
/** What goes by the clock was there when it was said; what goes by levels is confirmed by lasting. */
const BY_CLOCK: ReadonlySet<Slot> = new Set(['running', 'supply', 'power', 'data', 'counters', 'sensor']);

/**
 * Make the findings agree with what is believed at this tick; gives those that changed.
 *
 * An opened finding is never un-opened: a new likely cause goes into its history, and one whose condition is over is closed.
 */
export function reconcile(ledger: LedgerState, params: ReconcileParams): Finding[] {
  const { conditions } = params;
  const changed = new Map<Slot, Finding>();
  for (const condition of conditions) {
    const open = ledger.open[condition.slot];
    if (open !== undefined) {
      open.absentSinceMs = null;
      open.aside = condition.aside === true;
      stand(open, condition);
      // What gets less after a service is told as it stood before: what is left of it in the days that are looked at is no news.
      const isLess = condition.size < open.size && condition.cause === open.finding.cause && !condition.urgent && condition.ofVisit !== true;
      if (isLess && open.finding.state !== 'verifying' && params.servedSinceMs(Date.parse(open.finding.openedAt))) continue;
      open.size = condition.size;
      if (waversNow(open, condition, params.tickMs)) continue;
      const revised = revise(open.finding, condition, params);
      if (revised !== open.finding) changed.set(condition.slot, (open.finding = revised));
      continue;
    }
    const closedSize = ledger.closedByPerson[condition.slot];
    if (closedSize !== undefined && condition.size < closedSize * 1.5) continue;
    delete ledger.closedByPerson[condition.slot];
    const finding = openFinding(ledger, condition, params);
    const opened: OpenFinding = { finding, size: condition.size, absentSinceMs: null, aside: condition.aside === true };
    stand(opened, condition);
    ledger.open[condition.slot] = opened;
    changed.set(condition.slot, finding);
  }
  const present = new Set(conditions.map((condition) => condition.slot));
  for (const slot of Object.keys(ledger.closedByPerson) as Slot[]) if (!present.has(slot) && params.judged(slot)) delete ledger.closedByPerson[slot];
  for (const [slot, open] of Object.entries(ledger.open) as [Slot, NonNullable<LedgerState['open'][Slot]>][]) {
    if (present.has(slot) || (params.hidden.has(slot) && !present.has('sensor'))) continue;
    const after = ended(open, slot, present, params);
    if (after === open.finding) continue;
    changed.set(slot, after);
    if (after.state === 'closed') {
      if (after.closedReason === 'superseded' && !params.off) explain(ledger.open.sensor, slot);
      if (slot === 'demand') ledger.demandOverMs = params.tickMs;
      if (slot === 'supply') ledger.supplyOverMs = params.tickMs;
      if (slot === 'running' && [open.finding.cause, ...(open.finding.among ?? [])].includes('runs-without-end')) ledger.endlessOverMs = params.tickMs;
      keepTimes(ledger, open, params.tickMs);
      delete ledger.open[slot];
    } else open.finding = after;
  }
  for (const [slot, finding] of linkAlongside(ledger)) changed.set(slot, finding);
  return [...changed.values()];
}

/** For so long another name must hold before it is told. Common practice, no source. */
const WAVERS_MS = 3 * DAY_MS;

/** Of these it goes to and fro which is likelier: stops come at one pressure today, and at several tomorrow. */
const WAVERING: ReadonlySet<string> = new Set(['stops-short', 'set-point-changed']);

/** Whether a run that stops short is now named the other way, though less surely. */
function waversNow(open: OpenFinding, { slot, cause, causes }: Condition, nowMs: number): boolean {
  const told = open.finding.causes[0]!;
  if (slot !== 'running' || cause === told.cause || !WAVERING.has(cause) || !WAVERING.has(told.cause) || causes[0]!.probability >= told.probability) {
    delete open.otherSinceMs;
    return false;
  }
  open.otherSinceMs ??= nowMs;
  return nowMs - open.otherSinceMs < WAVERS_MS;
}

/** What is hidden follows what is said now; what it is held against stays that of its beginning. */
function stand(open: OpenFinding, { hides, against }: Condition): void {
  if (hides !== undefined || open.hides !== undefined) open.hides = hides ?? [];
  if (against !== undefined) open.against ??= against;
}

/** What a lying gauge once explained it explains until its finding ends, though nothing may say so at every moment. */
function explain(sensor: OpenFinding | undefined, slot: Slot): void {
  if (sensor !== undefined) sensor.supersedes = [...(sensor.supersedes ?? []), slot];
}

/** What open findings explain beside their own slots, though nothing may say so at this moment. */
export function hiddenByOpen({ open }: LedgerState): readonly Slot[] {
  return Object.values(open).flatMap((one) => [...(one.hides ?? []), ...(one.supersedes ?? [])]);
}

/** What a condition's time says nothing of: a lying gauge of the tank, a supply that feeds nothing, or a compressor that doesn't stop, or stops anywhere. */
function leavesOut({ slot, cause, causes, among, ofTank, hides }: Condition): LeftOut['of'] | undefined {
  // What may as well be a switch that was turned leaves nothing out.
  if (ofTank === true || (slot === 'set-point' && cause === 'sensor-fault' && causes[0]!.probability >= SURELY_GAUGE)) return 'tank';
  if (slot === 'running' && (cause === 'runs-without-end' || hides?.includes('delivery') === true)) return 'run';
  const unfed = [cause, ...(among ?? [])].some((one) => one === 'valve-left-shut' || one === 'supply-bypassed');
  return (slot === 'supply' || slot === 'demand') && unfed ? 'supply' : undefined;
}

/** Keep the times in which open findings are believed for what leaves something out: from when it is said to have begun until nothing says so any more. */
export function noteBelieved({ open }: LedgerState, believed: readonly Condition[], nowMs: number): void {
  for (const [slot, one] of Object.entries(open) as [Slot, OpenFinding][]) {
    const now = believed.flatMap((condition) => (condition.slot === slot ? (leavesOut(condition) ?? []) : []))[0];
    const times = one.leavesOut ?? [];
    const last = times.at(-1);
    if (last !== undefined && last.of === now) {
      // It was over for a while: for the supply of a tank that leaks by itself, while that is filled.
      if (last.toMs !== null) one.leavesOut = [...times.slice(0, -1), { ...last, toMs: null }];
      continue;
    }
    const ended = last !== undefined && last.toMs === null ? [...times.slice(0, -1), { ...last, toMs: nowMs }] : times;
    if (now !== undefined) one.leavesOut = [...ended, { of: now, fromMs: times.length > 0 ? nowMs : begunMs(one.finding), toMs: null }].slice(-LEFT_OUT_KEPT);
    else if (ended !== times) one.leavesOut = ended;
  }
}

function begunMs({ openedAt, onset }: Finding): number {
  return Math.min(Date.parse(openedAt), Date.parse(onset.likely ?? openedAt));
}

/** A finding is closed: its times go on being left out. */
function keepTimes(ledger: LedgerState, { leavesOut: times = [] }: OpenFinding, nowMs: number): void {
  if (times.length > 0) ledger.leftOut = [...(ledger.leftOut ?? []), ...times.map((time) => ({ ...time, toMs: time.toMs ?? nowMs }))].slice(-LEFT_OUT_KEPT);
}

/** What is left out of what is usual: the times of findings that are closed, and those of open ones that are over. */
export function leftOutNow({ open, leftOut = [] }: LedgerState): readonly LeftOut[] {
  return [...leftOut, ...timesOf(open).flatMap(({ toMs, ...time }) => (toMs === null ? [] : [{ ...time, toMs }]))];
}

/** The times in which the piping was fed by something else or by nothing, over or not. */
export function unfedTimes({ open, leftOut = [] }: LedgerState): readonly LeftOut[] {
  return [...leftOut, ...timesOf(open).map((time) => ({ ...time, toMs: time.toMs ?? Infinity }))].filter((time) => time.of === 'supply');
}

function timesOf(open: LedgerState['open']): OpenTime[] {
  return Object.values(open).flatMap((one) => one.leavesOut ?? []);
}

/** A person closed a finding: it is closed here too, and stays away while its condition doesn't grow. */
export function closeByPerson(ledger: LedgerState, findingId: string, nowMs: number): boolean {
  for (const [slot, open] of Object.entries(ledger.open) as [Slot, NonNullable<LedgerState['open'][Slot]>][]) {
    if (open.finding.id !== findingId) continue;
    ledger.closedByPerson[slot] = open.size;
    keepTimes(ledger, open, nowMs);
    delete ledger.open[slot];
    return true;
  }
  return false;
}

/** What open findings say, as far as it decides whether the same goes on. */
export function saidOpen(ledger: LedgerState): SaidOpen {
  const { open, demandOverMs, supplyOverMs, endlessOverMs } = ledger;
  // Told by its days or by the clock: a supply that feeds again.
  const fedAgainMs = Math.max(-Infinity, supplyOverMs ?? -Infinity, ...unfedTimes(ledger).flatMap(({ toMs }) => (Number.isFinite(toMs) ? [toMs] : [])));
  const missed = open.running?.finding.history.findLast((line) => line.cause === 'not-starting');
  const bleedSaid = (['demand', 'delivery'] as const).flatMap((slot) => {
    const finding = open[slot]?.finding;
    return finding?.cause === 'bleed-left-open' ? [{ slot, openedMs: Date.parse(finding.openedAt), evidence: finding.evidence }] : [];
  });
  return { missedStartMs: missed === undefined ? null : Date.parse(missed.at), cutShort: open.running?.against ?? (open.running?.finding.cause === 'stops-short' ? [] : null), supplyOpen: open.supply !== undefined, demandOpen: open.demand !== undefined, demandOverMs: demandOverMs ?? null, supplyOverMs: fedAgainMs === -Infinity ? null : fedAgainMs, leaksBack: open.demand?.finding.cause === 'check-valve-leaking', endlessOverMs: endlessOverMs ?? null, bleedSaid };
}

/** Hash of site, generator, `openedAt` and an ordinal: the same in a replay. */
export function findingId(generator: GeneratorKey, openedAt: string, ordinal: number): string {
  return createHash('sha256').update(`${generator} ${openedAt} ${ordinal}`).digest('hex').slice(0, 16);
}

function openFinding(ledger: LedgerState, condition: Condition, { generator, tickMs, settingsHash }: ReconcileParams): Finding {
  ledger.lastOpened = { tickMs, count: ledger.lastOpened.tickMs === tickMs ? ledger.lastOpened.count + 1 : 0 };
  const openedAt = isoFromMs(tickMs);
  const { site, generator: id } = splitGeneratorKey(generator);
  const blank = { id: findingId(generator, openedAt, ledger.lastOpened.count), site, generator: id, openedAt, alongside: [], history: [], settings: settingsHash, state: 'new' as const, shelvedUntil: null, closedAt: null, closedReason: null };
  return withHistory({ ...blank, ...said(condition) }, tickMs);
}

function revise(finding: Finding, condition: Condition, { tickMs }: ReconcileParams): Finding {
  const before: Pick<Condition, 'cause' | 'causes' | 'among'> = finding;
  const reworded = !sameWords({ ...condition, ...before }, condition);
  const wasVerifying = finding.state === 'verifying';
  // What the evidence says goes on changing; once an hour is often enough to be told.
  const fresher = (tickMs % HOUR_MS === 0 || finding.evidence.some(isOver)) && JSON.stringify(condition.evidence) !== JSON.stringify(finding.evidence);
  if (!reworded && !wasVerifying && !fresher) return finding;
  const revised: Finding = { ...finding, ...said(condition), onset: onsetOf(finding, condition), state: wasVerifying ? 'new' : finding.state };
  return reworded ? withHistory(revised, tickMs) : revised;
}

/** When it began stays as it was first told; what was opened by a limit learns it later, but not from what began after it was opened. */
function onsetOf(finding: Finding, condition: Condition): Finding['onset'] {
  const { onset } = said(condition);
  return finding.onset.likely === null && onset.likely !== null && onset.likely <= finding.openedAt ? onset : finding.onset;
}

function said(condition: Condition): Pick<Finding, 'onset' | 'cause' | 'causes' | 'among' | 'missingChannels' | 'evidence'> {
  const iso = (ms: number | null): string | null => (ms === null ? null : isoFromMs(ms));
  const { earliestMs, likelyMs, latestMs } = condition.onset;
  return { onset: { earliest: iso(earliestMs), likely: iso(likelyMs), latest: iso(latestMs) }, cause: condition.cause, causes: condition.causes, among: condition.among, missingChannels: condition.missingChannels, evidence: condition.evidence };
}

function withHistory(finding: Finding, tickMs: number): Finding {
  const line = { at: isoFromMs(tickMs), cause: finding.cause, probability: probabilityOf(finding), ...(finding.among === null ? {} : { among: finding.among }) };
  return { ...finding, history: [...finding.history, line].slice(-HISTORY_KEPT) };
}

/** How sure the named cause is; of a group, how sure that one of it is right. */
export function probabilityOf(finding: Pick<Finding, 'cause' | 'causes' | 'among'>): number {
  const named = finding.among ?? [finding.cause];
  return Math.round(finding.causes.filter((one) => named.includes(one.cause)).reduce((sum, one) => sum + one.probability, 0) * 1000) / 1000;
}

function ended(open: OpenFinding, slot: Slot, present: ReadonlySet<Slot>, params: ReconcileParams): Finding {
  const { tickMs, judged, servedSinceMs } = params;
  const { finding } = open;
  if (params.off) return closed(finding, 'superseded', tickMs);
  const openedMs = Date.parse(finding.openedAt);
  const served = servedSinceMs(openedMs);
  if (present.has('sensor') && params.hidden.has(slot) && tickMs - openedMs < 3 * DAY_MS) return closed(finding, 'superseded', tickMs);
  if (!judged(slot)) return served && finding.state !== 'verifying' ? { ...finding, state: 'verifying' } : finding;
  open.absentSinceMs ??= tickMs;
  if (tickMs - open.absentSinceMs < goneForMs(open, slot, served)) return TOLD_OVER.has(slot) && tickMs - open.absentSinceMs >= OVER_MS ? saidOver(finding, open.absentSinceMs, params.timeZone) : finding;
  return closed(finding, served || BY_CLOCK.has(slot) || open.absentSinceMs - openedMs > 3 * DAY_MS ? 'improved' : 'not-confirmed', tickMs);
}

/** Who reads that a compressor has not started stands beside one that runs: what is over, and only waits to be closed, says so. */
const TOLD_OVER: ReadonlySet<Slot> = new Set(['running', 'supply']);
/** Of what comes and goes from tick to tick nothing is said. */
const OVER_MS = 20 * MINUTE_MS;
const OVER = 'It is so no more since';

const isOver = (one: Evidence): boolean => one.says.startsWith(OVER);

function saidOver(finding: Finding, sinceMs: number, timeZone: string): Finding {
  if (finding.evidence.some(isOver)) return finding;
  const over: Evidence = { says: `${OVER} ${DateTime.fromMillis(sinceMs, { zone: timeZone, locale: 'en-GB' }).toFormat('d LLL, HH:mm')}; it is closed when that lasts, or once a visit is recorded.`, for: finding.cause, weight: OVER_WEIGHT };
  return { ...finding, evidence: [...finding.evidence, over] };
}

/** As strong as what was measured can be, against it. */
const OVER_WEIGHT = -3;

function goneForMs({ finding, aside, against }: OpenFinding, slot: Slot, served: boolean): number {
  if (finding.cause === 'stops-short' || against !== undefined) return STOPS_GONE_FOR_MS[served ? 1 : 0];
  return aside === true && !served ? DRIFT_GONE_FOR_MS : GONE_FOR_MS[slot][served ? 1 : 0];
}

function closed(finding: Finding, closedReason: ClosingReason, tickMs: number): Finding {
  return { ...finding, evidence: finding.evidence.filter((one) => !isOver(one)), state: 'closed', closedAt: isoFromMs(tickMs), closedReason };
}

/** Open findings of a generator name each other: two causes at the same time. */
function linkAlongside(ledger: LedgerState): [Slot, Finding][] {
  const open = Object.entries(ledger.open) as [Slot, NonNullable<LedgerState['open'][Slot]>][];
  const relinked: [Slot, Finding][] = [];
  for (const [slot, one] of open) {
    const others = open.filter(([other]) => other !== slot).map(([, other]) => other.finding.id).sort();
    if (others.join() === one.finding.alongside.join()) continue;
    one.finding = { ...one.finding, alongside: others };
    relinked.push([slot, one.finding]);
  }
  return relinked;
}
