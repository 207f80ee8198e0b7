import { DateTime } from 'luxon';
import type { DayRow } from '../../shared/cycle.ts';
import type { Evidence } from '../../shared/finding.ts';
import type { Epoch } from './epochs.ts';
import { presentLevel, type Shift, SMALLEST_CHANGE } from './find-shift.ts';
import { SIGNATURES, type SignedCause } from './signatures.ts';
import type { Feature, Weighed } from './weigh-causes.ts';
import type { Watched } from './day-series.ts';

/** Evidence weaker than this (natural logarithm) isn't worth a sentence. */
const WORTH_SAYING = 0.4;

/** So far from 20 °C, K, what is brought to that is another figure than the gauge shows. */
const OTHER_ROOM_K = 5;

/** How far a series is from its baseline now, in its own unit. */
type Level = Pick<Shift, 'effect' | 'effectSe'>;

/** In which unit, and at which room temperature of late, °C. */
type Measured = { readonly unit: DayRow['unit']; readonly roomC: number | null };

export type Context = Measured & { readonly epochs: ReadonlyMap<Watched, Epoch>; /** The series that the finding is about, with what was found. */ readonly moved: { readonly name: Watched; readonly level: Level }; /** `21 Nov`. */ readonly visitDay: string | null; readonly stepChance: number | null; readonly sameAmount: boolean; readonly dropPerRunHour: number | null };

/**
 * Sentences for and against the likeliest cause: each observed thing with its log likelihood ratio against all other
 * causes, weighted by how often they happen; strongest first.
 */
export function evidenceFor(weighed: Weighed, context: Context): Evidence[] {
  const first = weighed.causes[0];
  if (first === undefined) return [];
  const evidence: Evidence[] = [];
  for (const feature of weighed.features) {
    // Adding 0 makes a plain 0 of −0, which JSON would not keep.
    const weight = Math.round((feature.logLikelihoods.get(first.cause)! - logOfOthers(feature, first.cause)) * 10) / 10 + 0;
    const says = sentence(feature, context);
    if (says !== undefined && (Math.abs(weight) >= WORTH_SAYING || feature.about === 'demand' || feature.about === 'delivery')) evidence.push({ says, for: first.cause, weight });
  }
  return evidence.sort((a, b) => Math.abs(b.weight) - Math.abs(a.weight) || (a.says < b.says ? -1 : 1));
}

/** Logarithm of the mean likelihood of a feature under all causes but one. */
function logOfOthers(feature: Feature, but: SignedCause): number {
  let sum = 0;
  let rates = 0;
  for (const [cause, log] of feature.logLikelihoods) {
    if (cause === but) continue;
    sum += SIGNATURES[cause].perYear * Math.exp(log);
    rates += SIGNATURES[cause].perYear;
  }
  return Math.log(sum / rates);
}

function sentence({ about, logLikelihoods }: Feature, context: Context): string | undefined {
  switch (about) {
    case 'shape':
      return context.stepChance === null ? undefined : context.stepChance > 0.7 ? 'It came at once.' : context.stepChance < 0.3 ? 'It came slowly.' : undefined;
    case 'visit':
      return context.visitDay === null ? 'No visit is recorded near its beginning.' : `It began within a day and a half of the visit of ${context.visitDay}.`;
    case 'amounts':
      if (logLikelihoods.get('check-valve-leaking')! < logLikelihoods.get('leak')!) return 'Delivery did not rise with demand, as it would if gas ran back while the compressor rests.';
      return context.sameAmount ? 'Delivery rose by about as much gas as demand did: gas runs back while the compressor rests.' : 'Delivery rose too, though by less gas than demand did: some may run back while the compressor rests.';
    case 'rate':
      return context.dropPerRunHour === null ? undefined : `The drop over the elements rises by ${context.dropPerRunHour.toPrecision(2)} kPa an hour of running; dust takes hundreds of hours, water tens.`;
    default: {
      const epoch = context.epochs.get(about);
      return epoch === undefined ? undefined : movementSentence(epoch, context, about === context.moved.name ? context.moved.level : undefined);
    }
  }
}

const NAMES: Readonly<Record<Watched, string>> = { demand: 'Demand', delivery: 'Delivery', duty: 'The duty ratio', elementDrop: 'The pressure drop over the elements', nitrogen: 'Nitrogen', discharge: 'The pressure before the elements', feed: 'The pressure after the elements', feedRest: 'At rest the pressure after the elements', feedFall: 'The feed side', compressorRun: 'The compressor', system: 'The piping pressure' };

/**
 * "Demand rose from 3.1 to 5.0 NL/min (+61 %)." Of the series that the finding is about, `found` is what was judged: it moved, whatever
 * its newest values would say by themselves. Any other series moved if its last three values surely did.
 */
export function movementSentence(epoch: Epoch, { unit, roomC }: Measured, found?: Level): string {
  const { effect, effectSe } = found ?? presentLevel(epoch.points, epoch.baseline, 0);
  const before = epoch.baseline.centre;
  const now = before + effect;
  const name = NAMES[epoch.name];
  const moved = found !== undefined || Math.abs(effect) >= 2 * effectSe;
  const verb = effect > 0 ? 'rose' : 'fell';
  // As causes are weighed: less than half of what matters is no movement. "Unchanged (+8 %)" would say two things.
  const same = Math.abs(effect) < SMALLEST_CHANGE[epoch.name] / 2;
  const still = (at: string, by: string): string => `${name} is ${same ? `unchanged at ${at}` : `at ${at} (${by}), within its usual wander`}.`;
  if (epoch.name === 'demand' || epoch.name === 'delivery') {
    const change = percent(Math.expm1(effect));
    if (unit === 'relative') return moved ? `${name} ${verb} by ${change.replace(/^[+−]/, '')}, by the times of run and rest.` : `${name} is ${same ? 'unchanged' : `within its usual wander (${change})`} by the times of run and rest.`;
    return moved ? `${name} ${verb} from ${digits(Math.exp(before))} to ${digits(Math.exp(now))} ${unit} (${change}).` : still(`${digits(Math.exp(now))} ${unit}`, change);
  }
  if (epoch.name === 'duty') return moved ? `${name} ${verb} from ${digits(Math.exp(before) * 100)} % to ${digits(Math.exp(now) * 100)} %.` : still(`${digits(Math.exp(now) * 100)} %`, percent(Math.expm1(effect)));
  if (epoch.name === 'feedFall') return moved ? `After a stop the feed side falls to a third in ${fallMinutes(now)} min; before, in ${fallMinutes(before)} min.` : `After a stop the feed side falls to a third in ${fallMinutes(now)} min, as it always did.`;
  if (epoch.name === 'compressorRun') return moved ? `For each hour in which nitrogen is made the compressor runs ${digits(60 * Math.exp(now))} min; before, ${digits(60 * Math.exp(before))} min.` : `For each hour in which nitrogen is made the compressor runs ${digits(60 * Math.exp(now))} min, as it always did.`;
  // In another room the gauge itself reads otherwise.
  const at20C = roomC !== null && Math.abs(roomC - 20) > OTHER_ROOM_K ? ' (as at 20 °C)' : '';
  if (epoch.name === 'nitrogen') return moved ? `${name} ${verb} from ${before.toFixed(2)} % to ${now.toFixed(2)} %${at20C}.` : still(`${now.toFixed(2)} %${at20C}`, `${effect > 0 ? '+' : '−'}${Math.abs(effect).toFixed(2)}`);
  return moved ? `${name} ${verb} from ${wholeText(before)} to ${wholeText(now)} kPa.` : still(`${Math.round(now)} kPa`, `${effect > 0 ? '+' : '−'}${Math.abs(Math.round(effect))} kPa`);
}

/** `21 Nov`, a day of the site's calendar as the pages say it; its year is that of the finding, which stands beside it. */
export function dayWords(iso: string, timeZone: string): string {
  return DateTime.fromISO(iso, { zone: timeZone, locale: 'en-GB' }).toFormat('d LLL');
}

/** A share as "+61 %" or "−4 %", with a real minus sign. */
export function percent(share: number): string {
  const whole = Math.round(share * 100);
  return `${whole < 0 ? '−' : '+'}${Math.abs(whole)} %`;
}

/** Minutes of a time whose natural logarithm, of seconds, is given; to a third is to 1/e but for a tenth more. */
export const fallMinutes = (lnSeconds: number): string => digits((Math.exp(lnSeconds) * Math.log(3)) / 60);

/** A whole number with a real minus sign; −0 is 0. */
const wholeText = (value: number): string => String(Math.round(value) + 0).replace('-', '−');

/** "705 kPa". */
export const kPaText = (value: number): string => `${Math.round(value)} kPa`;

function digits(value: number): string {
  return value >= 100 ? String(Math.round(value)) : value >= 10 ? value.toFixed(1) : value.toPrecision(2);
}
