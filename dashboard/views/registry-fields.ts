import type { GeneratorRecord } from '../../shared/registry.ts';
import { inKeptUnit, inShownUnit, shownUnit } from './shown-units.ts';

/** A field of a generator as the form has it. `scale`: what is shown is the kept value times this. */
export type FormField = {
  readonly path: readonly string[];
  readonly words: string;
  readonly hint?: string;
} & (
  | { readonly kind: 'text'; readonly most: number }
  | { readonly kind: 'date' }
  | { readonly kind: 'yes' }
  | { readonly kind: 'number'; readonly unit: string; readonly scale?: number; readonly required?: boolean }
  | { readonly kind: 'choice'; readonly choices: readonly (readonly [value: string, words: string])[] }
);

/** The fields of a generator by heading, in the order in which a person fills them in; lists and parts have their own places. */
export const GENERATOR_FIELDS: readonly { readonly heading: string; readonly fields: readonly FormField[] }[] = [
  {
    heading: 'What it is',
    fields: [
      { path: ['name'], words: 'Name', kind: 'text', most: 120, hint: 'as people call it; the id stays' },
      { path: ['kind'], words: 'Kind', kind: 'choice', choices: [['membrane', 'membrane'], ['sieve', 'sieve beds']] },
      { path: ['layout'], words: 'Layout', kind: 'choice', choices: [['direct', 'compressor straight to the membrane'], ['air-receiver', 'with an air receiver']] },
      { path: ['commissionedAt'], words: 'Commissioned', kind: 'date' },
      { path: ['outOfService'], words: 'Out of service: nothing is looked for', kind: 'yes' },
    ],
  },
  {
    heading: 'Tank and compressor',
    fields: [
      { path: ['tankLitres'], words: 'Nitrogen tank', kind: 'number', unit: 'L' },
      { path: ['cutInKPa'], words: 'Compressor starts at', kind: 'number', unit: 'kPa' },
      { path: ['cutOutKPa'], words: 'Compressor stops at', kind: 'number', unit: 'kPa' },
      { path: ['ratedNLPerMin'], words: 'Rated delivery', kind: 'number', unit: 'NL/min' },
      { path: ['compressorKW'], words: 'Compressor', kind: 'number', unit: 'kW' },
    ],
  },
  {
    heading: 'Purity',
    fields: [
      { path: ['nitrogenLimit'], words: 'Least nitrogen', kind: 'number', unit: '%', scale: 100, required: true },
      { path: ['nitrogenAt'], words: 'Measured at', kind: 'choice', choices: [['product', 'the product, before the tank'], ['tank', 'the tank'], ['piping', 'the piping']] },
    ],
  },
  {
    heading: 'Limits',
    fields: [
      { path: ['limits', 'dutyRatio'], words: 'Most running time', kind: 'number', unit: '%', scale: 100, required: true },
      { path: ['limits', 'elementDropKPa'], words: 'Most pressure drop over the elements', kind: 'number', unit: 'kPa', required: true },
      { path: ['limits', 'deliveryShare'], words: 'Least delivery, of its own baseline', kind: 'number', unit: '%', scale: 100, required: true },
    ],
  },
  {
    heading: 'Service',
    fields: [
      { path: ['serviceEvery', 'days'], words: 'At the latest every', kind: 'number', unit: 'days' },
      { path: ['serviceEvery', 'runHours'], words: 'or after', kind: 'number', unit: 'h run' },
    ],
  },
  {
    heading: 'How it reports',
    fields: [
      { path: ['reportEveryS'], words: 'Reports every', kind: 'number', unit: 's', hint: 'empty: learnt from what comes; a meter read by hand each month: 2592000' },
      { path: ['publishesAs'], words: 'Its gateway publishes under the id', kind: 'text', most: 64, hint: 'empty: its own id' },
    ],
  },
];

const MOST_DIGITS = 6;

/** The value of a field as text for its input; a number in the shown unit without more digits than it can carry. */
export function fieldText(generator: GeneratorRecord, field: FormField): string {
  const value = valueAt(generator, field.path);
  if (field.kind === 'number' && typeof value === 'number') return String(Number((inShownUnit(value, field.unit) * (field.scale ?? 1)).toPrecision(MOST_DIGITS)));
  return typeof value === 'string' || typeof value === 'boolean' ? String(value) : '';
}

/** The unit that stands beside a field. */
export function fieldUnit(field: FormField): string {
  return field.kind === 'number' ? shownUnit(field.unit) : '';
}

/**
 * A generator with one field as typed; text that was not touched changes nothing, so that no number drifts through a unit.
 * Gives the sentence of what is wrong otherwise.
 */
export function withField(generator: GeneratorRecord, field: FormField, text: string): GeneratorRecord | { readonly wrong: string } {
  const typed = text.trim();
  if (typed === fieldText(generator, field)) return generator;
  if (field.kind === 'yes') return withValue(generator, field.path, typed === 'true');
  if (typed === '') return field.kind === 'number' && field.required === true ? { wrong: `${field.words} must not be empty.` } : withValue(generator, field.path, undefined);
  if (field.kind !== 'number') return withValue(generator, field.path, typed);
  const value = Number(typed.replace(',', '.'));
  if (!Number.isFinite(value)) return { wrong: `${field.words} must be a number.` };
  const kept = inKeptUnit(value / (field.scale ?? 1), field.unit);
  return withValue(generator, field.path, Number(kept.toPrecision(MOST_DIGITS)));
}

function valueAt(record: unknown, path: readonly string[]): unknown {
  return path.reduce<unknown>((value, name) => (typeof value === 'object' && value !== null ? (value as Record<string, unknown>)[name] : undefined), record);
}

function withValue<T>(record: T, [name = '', ...more]: readonly string[], value: unknown): T {
  const before = (record as Record<string, unknown> | undefined) ?? {};
  const inner = more.length > 0 ? withValue(before[name], more, value) : value;
  const { [name]: _taken, ...rest } = before;
  return (inner === undefined ? rest : { ...before, [name]: inner }) as T;
}
