/** Lines out of pieces of UTF-8 as they come from a connection; empty lines are passed over. */
export type LineTaker = { take(chunk: Uint8Array): void; /** What follows the last end of line. */ end(): void };

const NEW_LINE = 0x0a;

export function takeLines(onLine: (line: string) => void): LineTaker {
  // Pieces are joined only when their line has ended: joining at each piece costs the square of the size.
  let pieces: Uint8Array[] = [];
  const finish = (): void => {
    const line = Buffer.concat(pieces).toString('utf8').trim();
    pieces = [];
    if (line !== '') onLine(line);
  };
  return {
    take(chunk) {
      let start = 0;
      for (let end = chunk.indexOf(NEW_LINE); end >= 0; end = chunk.indexOf(NEW_LINE, start)) {
        pieces.push(chunk.subarray(start, end));
        start = end + 1;
        finish();
      }
      if (start < chunk.length) pieces.push(chunk.subarray(start));
    },
    end: finish,
  };
}
