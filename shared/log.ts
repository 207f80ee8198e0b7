/** Where a room says what happened; handed in. `fields` are for machines, the message is for people. */
export type Log = {
  info(message: string, fields?: Readonly<Record<string, unknown>>): void;
  warn(message: string, fields?: Readonly<Record<string, unknown>>): void;
  error(message: string, fields?: Readonly<Record<string, unknown>>): void;
};

export const SILENT_LOG: Log = { info() {}, warn() {}, error() {} };
