/** Where a command writes: results to `out`, everything said on the way to `say`. */
export type Terminal = {
  /** Results: standard output. */
  out(text: string): void;
  /** Words for the person who waits: standard error, so that a pipe holds results alone. */
  say(text: string): void;
  /** One line, drawn again in place; silent where nobody watches. `ratio` 0..1 or undefined. */
  progress(stage: string, ratio: number | undefined, detail?: string): void;
  /** Remove the progress line. */
  clearProgress(): void;
  readonly columns: number;
  readonly watched: boolean;
};

type Stream = { write(text: string): unknown; readonly isTTY?: boolean; readonly columns?: number };

const REDRAW_MS = 100;
const BAR_WIDTH = 24;

/** A terminal on two streams; the clock limits how often the progress line is drawn. */
export function terminalOn(out: Stream, error: Stream, nowMs: () => number): Terminal {
  let drawn = false;
  let drawnStage = '';
  let drawnAtMs = 0;
  const watched = error.isTTY === true;
  const columns = Math.max(60, out.columns ?? error.columns ?? 100);
  const clearProgress = (): void => {
    if (drawn) error.write('\r\u001B[2K');
    drawn = false;
  };
  return {
    watched,
    columns,
    out(text) {
      clearProgress();
      out.write(`${text}\n`);
    },
    say(text) {
      clearProgress();
      error.write(`${text}\n`);
    },
    clearProgress,
    progress(stage, ratio, detail = '') {
      const now = nowMs();
      if (!watched || (stage === drawnStage && now - drawnAtMs < REDRAW_MS && ratio !== 1)) return;
      drawnAtMs = now;
      drawnStage = stage;
      drawn = true;
      error.write(`\r\u001B[2K${progressLine(stage, ratio, detail).slice(0, columns - 1)}`);
    },
  };
}

function progressLine(stage: string, ratio: number | undefined, detail: string): string {
  if (ratio === undefined) return `${stage} … ${detail}`;
  const part = Math.min(1, Math.max(0, ratio));
  const full = Math.round(part * BAR_WIDTH);
  return `${stage.padEnd(22)} [${'#'.repeat(full)}${'.'.repeat(BAR_WIDTH - full)}] ${`${Math.floor(part * 100)}`.padStart(3)} %  ${detail}`;
}

/** Lay rows out under their heads; the last column is cut so that a line fits `width` columns. */
export function table(heads: readonly string[], rows: readonly (readonly string[])[], width: number, rightAligned: ReadonlySet<number> = new Set()): string {
  const widths = heads.map((head, column) => Math.max(head.length, ...rows.map((row) => (row[column] ?? '').length)));
  const line = (cells: readonly string[]): string =>
    cells
      .map((cell, column) => (column === heads.length - 1 && !rightAligned.has(column) ? cell : rightAligned.has(column) ? cell.padStart(widths[column] ?? 0) : cell.padEnd(widths[column] ?? 0)))
      .join('  ')
      .trimEnd();
  const fitted = (text: string): string => (text.length <= width ? text : `${text.slice(0, width - 1)}…`);
  return [line(heads), ...rows.map(line)].map(fitted).join('\n');
}
