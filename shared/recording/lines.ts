import { createReadStream } from 'node:fs';

/** What could not be read, and where; `line` 0 = the file as a whole. */
export type RecordingProblem = { readonly file: string; readonly line: number; readonly says: string };

/** Problems of a recording: all are counted, the first are told. */
export type Problems = { readonly first: readonly RecordingProblem[]; readonly count: number; add(problem: RecordingProblem): void };

const TOLD = 100;
/** What was parsed of a piece lives until it is worked off; of larger pieces the garbage collector moves more about than it frees. */
const CHUNK_BYTES = 64 * 1024;
/** A payload is at most 256 KiB; with what JSON escapes and a topic around it a line stays below this. */
const MAX_LINE_CHARACTERS = 4 * 1024 * 1024;

export function collectProblems(): Problems {
  const first: RecordingProblem[] = [];
  let count = 0;
  return {
    first,
    get count() {
      return count;
    },
    add(problem) {
      count += 1;
      if (first.length < TOLD) first.push(problem);
    },
  };
}

/** A line as `JSON.parse` gives it, with its number from 1. */
export type JsonLine = { readonly line: number; readonly value: unknown };

/**
 * Read a file of JSON lines in pieces of about 64 KiB, so that a file of any size needs the same memory.
 * A line that is no JSON is a problem and left out; empty lines are passed over.
 * Handing over many lines at once is what makes it fast: to await each would cost more than to parse it.
 */
export async function* readJsonLines(path: string, file: string, problems: Problems): AsyncGenerator<JsonLine[]> {
  let rest = '';
  let line = 0;
  const parse = (text: string, into: JsonLine[]): void => {
    line += 1;
    if (text.length === 0 || text.trim() === '') return;
    try {
      into.push({ line, value: JSON.parse(text) as unknown });
    } catch (error) {
      problems.add({ file, line, says: `is no JSON: ${error instanceof Error ? error.message : String(error)}` });
    }
  };
  for await (const chunk of createReadStream(path, { encoding: 'utf8', highWaterMark: CHUNK_BYTES }) as AsyncIterable<string>) {
    const lines: JsonLine[] = [];
    const text = rest + chunk;
    let from = 0;
    for (let to = text.indexOf('\n'); to !== -1; to = text.indexOf('\n', from)) {
      parse(text.slice(from, to), lines);
      from = to + 1;
    }
    rest = text.slice(from);
    if (rest.length > MAX_LINE_CHARACTERS) {
      problems.add({ file, line: line + 1, says: `line is longer than ${MAX_LINE_CHARACTERS} characters; the rest of the file was not read` });
      rest = '';
      if (lines.length > 0) yield lines;
      return;
    }
    if (lines.length > 0) yield lines;
  }
  const last: JsonLine[] = [];
  if (rest !== '') parse(rest, last);
  if (last.length > 0) yield last;
}
