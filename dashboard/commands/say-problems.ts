import type { Problems } from '../../shared/recording/lines.ts';
import type { Context } from './command.ts';

const MOST_SAID = 10;

/** What of a folder could not be read: the first ones, and how many there are. */
export function sayProblems({ first, count }: Pick<Problems, 'first' | 'count'>, { terminal }: Pick<Context, 'terminal'>): void {
  for (const { file, line, says } of first.slice(0, MOST_SAID)) terminal.say(`${file}${line > 0 ? `, line ${line}` : ''}: ${says}`);
  if (count > MOST_SAID) terminal.say(`… and ${count - MOST_SAID} more problems`);
}
