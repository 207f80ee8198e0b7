import type { Log } from '../../shared/log.ts';
import type { Clock } from '../../shared/time.ts';
import type { Terminal } from './terminal.ts';

/** A log as lines on the terminal: time, level where it isn't plain, message, then fields as JSON. `debug` adds stacks. */
export function logTo(terminal: Terminal, clock: Clock, debug: boolean): Log {
  const line = (level: string, message: string, fields: Readonly<Record<string, unknown>> = {}): void => {
    const plain = Object.fromEntries(Object.entries(fields).map(([name, value]) => [name, value instanceof Error ? (debug ? (value.stack ?? value.message) : value.message) : value]));
    const tail = Object.keys(plain).length === 0 ? '' : ` ${JSON.stringify(plain)}`;
    terminal.say(`${new Date(clock.nowMs()).toISOString().slice(0, 19)}Z ${level}${message}${tail}`);
  };
  return {
    info: (message, fields) => line('', message, fields),
    warn: (message, fields) => line('warning: ', message, fields),
    error: (message, fields) => line('error: ', message, fields),
  };
}
