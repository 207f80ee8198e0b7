import { useState } from 'preact/hooks';
import type { FaultAsked, HistoryAsked, HistoryChoice, ReplayChoices } from '../../../shared/world-replay.ts';
import { CAUSE_WORDS } from '../../views/domain-words.ts';
import { dayAfter, msOfWallTime, timeWords, wallTime } from '../../views/site-time.ts';
import { ChoiceField, ManyField, TextField } from './form-fields.tsx';

export type TypedStretch = { readonly generators: readonly string[]; readonly from: string; readonly to: string };
export type TypedFault = { readonly cause: FaultAsked['cause']; readonly variant: string; readonly severity: FaultAsked['severity']; readonly onset: string; readonly shape: FaultAsked['shape']; readonly growDays: string; readonly channel: string };

const keyOf = (one: HistoryChoice): string => `${one.site}/${one.generator}`;
/** A list that is longer is narrowed by typing. */
const LISTED = 60;

/** The zone that days are counted in: that of the sites where they share one. */
export function zoneOfStretch(generators: readonly string[], history: readonly HistoryChoice[]): string {
  const zones = new Set(history.filter((one) => generators.includes(keyOf(one))).map((one) => one.zone));
  return zones.size === 1 ? [...zones][0]! : 'UTC';
}

export function sentStretch({ generators, from, to }: TypedStretch, zone: string): HistoryAsked {
  const at = (day: string): string => new Date(msOfWallTime(`${day}T00:00`, zone) ?? NaN).toISOString();
  return { generators, fromAt: at(from), toAt: at(dayAfter(to, 1)) };
}

export function sentFault({ cause, variant, severity, onset, shape, growDays, channel }: TypedFault, zone: string): FaultAsked {
  return { cause, variant, severity, onsetAt: new Date(msOfWallTime(`${onset}T00:00`, zone) ?? NaN).toISOString(), shape, ...(shape === 'ramp' ? { growDays: Number(growDays) } : {}), ...(channel === '' || cause !== 'sensor-fault' ? {} : { channel }) };
}

/** Generators and days at the beginning: the first one that has a history, its last 60 days. */
export function firstStretch(history: readonly HistoryChoice[]): TypedStretch {
  const one = history[0];
  if (one === undefined) return { generators: [], from: '', to: '' };
  const to = wallTime(Date.parse(one.lastAt), one.zone).slice(0, 10);
  const first = wallTime(Date.parse(one.firstAt), one.zone).slice(0, 10);
  const from = dayAfter(to, -59);
  return { generators: [keyOf(one)], from: from < first ? first : from, to };
}

/** Twenty days before the end, so that there is something to learn from before and something to see after. */
export function firstOnset({ from, to }: TypedStretch): string {
  if (to === '') return '';
  const onset = dayAfter(to, -20);
  return onset < from ? from : onset;
}

/** Which generators, from when to when. */
export function StretchFields({ history, typed, change }: { readonly history: readonly HistoryChoice[]; readonly typed: TypedStretch; readonly change: (typed: TypedStretch) => void }) {
  const [search, setSearch] = useState('');
  const sought = search.trim().toLowerCase();
  const fitting = history.filter((one) => typed.generators.includes(keyOf(one)) || `${keyOf(one)} ${one.siteName} ${one.generatorName}`.toLowerCase().includes(sought));
  const shown = fitting.toSorted((a, b) => Number(typed.generators.includes(keyOf(b))) - Number(typed.generators.includes(keyOf(a)))).slice(0, LISTED);
  const zone = zoneOfStretch(typed.generators, history);
  const heard = history.filter((one) => typed.generators.includes(keyOf(one)));
  const first = heard.map((one) => one.firstAt).sort()[0];
  return (
    <>
      {history.length > 8 && <TextField words="Find a generator" value={search} change={setSearch} />}
      <div class="replay-generators" role="group" aria-label="Generators with a history" tabIndex={0}>
        <ManyField legend={`Generators (${typed.generators.length} chosen)`} options={shown.map((one) => [keyOf(one), `${one.siteName}, ${one.generatorName}`] as const)} chosen={typed.generators} change={(generators) => change({ ...typed, generators })} />
        {fitting.length > shown.length && <p class="quiet">{fitting.length - shown.length} more: type a part of the name.</p>}
      </div>
      <TextField words="First day" type="date" required hint={zone} value={typed.from} change={(from) => change({ ...typed, from })} />
      <TextField words="Last day" type="date" required hint={zone} value={typed.to} change={(to) => change({ ...typed, to })} />
      {first !== undefined && <p class="quiet long">Readings since {timeWords(Date.parse(first), zone)} ({zone}). Days count from when a reading was received.</p>}
    </>
  );
}

/** The fault that is laid over, as the simulator has it. */
export function FaultFields({ faults, typed, change }: { readonly faults: ReplayChoices['faults']; readonly typed: TypedFault; readonly change: (typed: TypedFault) => void }) {
  const variants = faults.find((one) => one.cause === typed.cause)?.variants ?? [];
  const variant = variants.find((one) => one.name === typed.variant) ?? variants[0];
  const severities = variant?.severities ?? [];
  return (
    <fieldset class="replay-settings">
      <legend>Fault laid over the stretch</legend>
      <div class="in-line">
        <ChoiceField words="Cause" value={typed.cause} choices={faults.map((one) => [one.cause, CAUSE_WORDS[one.cause]] as const)} change={(cause) => change({ ...typed, cause: cause as FaultAsked['cause'], variant: faults.find((one) => one.cause === cause)?.variants[0]?.name ?? '' })} />
        {variants.length > 1 && <ChoiceField words="Kind" value={typed.variant} choices={variants.map((one) => [one.name, one.name.replaceAll('-', ' ')] as const)} change={(name) => change({ ...typed, variant: name })} />}
        <ChoiceField words="Severity" value={typed.severity} choices={severities.map((one) => [one.severity, `${one.severity}: ${one.says}`] as const)} change={(severity) => change({ ...typed, severity: severity as FaultAsked['severity'] })} />
        {typed.cause === 'sensor-fault' && <TextField words="Channel that lies" hint="tank pressure when left empty" value={typed.channel} change={(channel) => change({ ...typed, channel })} />}
        <ChoiceField words="Shape" value={typed.shape} choices={[['step', 'all at once'], ['ramp', 'grows'], ['comes-and-goes', 'comes and goes']]} change={(shape) => change({ ...typed, shape: shape as FaultAsked['shape'] })} />
        {typed.shape === 'ramp' && <TextField words="Grows for" unit="days" value={typed.growDays} required change={(growDays) => change({ ...typed, growDays })} />}
        <TextField words="Begins on" type="date" required value={typed.onset} change={(onset) => change({ ...typed, onset })} />
      </div>
      <p class="quiet">Sizes are those of a generator of about 28 NL/min: common practice, no source.</p>
    </fieldset>
  );
}
