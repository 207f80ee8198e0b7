import { parseArgs } from 'node:util';
import type { Clock } from '../../shared/time.ts';
import { nearestName } from './nearest-name.ts';
import type { Terminal } from './terminal.ts';

/** What only the program's own shell may know; every command is handed it and hands on what a room needs. */
export type Context = {
  readonly environment: Readonly<Record<string, string | undefined>>;
  readonly folder: string;
  readonly clock: Clock;
  readonly random: () => number;
  readonly terminal: Terminal;
  /** From the first call on, SIGINT and SIGTERM abort the signal given instead of ending the process; a second one ends it at once. */
  readonly stopSignal: () => AbortSignal;
};

/** The command line can't be understood: exit code 2, and the usage is shown. */
export class UsageError extends Error {
  override readonly name = 'UsageError';
}

export type Option = {
  readonly type: 'string' | 'boolean';
  readonly multiple?: boolean;
  readonly short?: string;
  /** What stands for the value in the help, such as `ISO`. */
  readonly value?: string;
  readonly says: string;
};
type Options = Readonly<Record<string, Option>>;
type Values<O extends Options> = { readonly [K in keyof O]?: O[K]['type'] extends 'boolean' ? boolean : O[K] extends { multiple: true } ? string[] : string };

export type Command = {
  readonly name: string;
  readonly summary: string;
  readonly help: string;
  /** @throws {UsageError} if the arguments can't be understood. */
  run(argv: readonly string[], context: Context): Promise<void>;
};

type Definition<O extends Options> = {
  readonly name: string;
  readonly summary: string;
  /** Names of the arguments that have no flag, such as `['FOLDER']`; all of them must be given. */
  readonly wants?: readonly string[];
  /** Name of further arguments, any number of them, such as `FOLDER…`. */
  readonly wantsMore?: string;
  readonly options: O;
  /** A line that works when pasted, and more of what a person should know. */
  readonly example: string;
  readonly more?: string;
  run(values: Values<O>, given: readonly string[], context: Context): Promise<void>;
};

/** Make a command whose flags, help and refusals of wrong use come from one table. */
export function defineCommand<const O extends Options>(definition: Definition<O>): Command {
  const wants = definition.wants ?? [];
  return {
    name: definition.name,
    summary: definition.summary,
    help: helpOf(definition),
    async run(argv, context) {
      const { values, positionals } = parseStrictly(argv, definition.options);
      if (positionals.length < wants.length) throw new UsageError(`${wants.slice(positionals.length).join(' ')} is missing`);
      if (positionals.length > wants.length && definition.wantsMore === undefined) throw new UsageError(`unexpected argument ${JSON.stringify(positionals[wants.length])}`);
      await definition.run(values as Values<O>, positionals, context);
    },
  };
}

function parseStrictly(argv: readonly string[], options: Options): { readonly values: Readonly<Record<string, unknown>>; readonly positionals: readonly string[] } {
  const config = Object.fromEntries(Object.entries(options).map(([name, { type, multiple, short }]) => [name, { type, multiple: multiple ?? false, ...(short === undefined ? {} : { short }) }]));
  try {
    return parseArgs({ args: [...argv], options: config, allowPositionals: true, strict: true });
  } catch (error) {
    throw new UsageError(wrongUseWords(error, Object.keys(options)));
  }
}

/** Node's first sentence, and of an option that isn't there the nearest that is. */
function wrongUseWords(error: unknown, names: readonly string[]): string {
  const [first = ''] = (error instanceof Error ? error.message : String(error)).split(/\.\s/);
  const unknown = /^Unknown option '(--?)([^']*)'/.exec(first);
  const near = unknown === null ? undefined : nearestName(unknown[2] ?? '', names);
  return `${first}${near === undefined ? '' : `; did you mean --${near}?`}`;
}

function helpOf(definition: { readonly name: string; readonly summary: string; readonly wants?: readonly string[]; readonly wantsMore?: string; readonly options: Options; readonly example: string; readonly more?: string }): string {
  const flags = Object.entries(definition.options).map(([name, option]) => [`${option.short === undefined ? '' : `-${option.short}, `}--${name}${option.type === 'string' ? ` ${option.value ?? 'VALUE'}` : ''}`, option.says] as const);
  const width = Math.max(6, ...flags.map(([flag]) => flag.length));
  const lines = [...flags, ['--help', 'this page'] as const].map(([flag, says]) => `  ${flag.padEnd(width)}  ${says}`);
  return [`lull ${[definition.name, ...(definition.wants ?? []), ...(definition.wantsMore === undefined ? [] : [`[${definition.wantsMore}]`])].join(' ')} [options]`, '', `${definition.summary}.`, ...(definition.more === undefined ? [] : ['', definition.more]), '', ...lines, '', 'Example:', `  ${definition.example}`, ''].join('\n');
}

/** Read a number that a person gave with a flag. @throws {UsageError} if it is none or outside [min, max]. */
export function numberOf(flag: string, text: string | undefined, fallback: number, min: number, max: number): number {
  if (text === undefined) return fallback;
  const value = Number(text);
  if (text.trim() === '' || !Number.isFinite(value) || value < min || value > max) throw new UsageError(`--${flag} must be a number from ${min} to ${max}: current value is ${JSON.stringify(text)}`);
  return value;
}

/** As `numberOf`, for what can only be counted. @throws {UsageError} if it is no whole number within [min, max]. */
export function wholeNumberOf(flag: string, text: string | undefined, fallback: number, min: number, max: number): number {
  const value = numberOf(flag, text, fallback, min, max);
  if (!Number.isInteger(value)) throw new UsageError(`--${flag} must be a whole number from ${min} to ${max}: current value is ${JSON.stringify(text)}`);
  return value;
}
