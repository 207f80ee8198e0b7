// Issue: readings in InfluxDB. Answers come in pieces that end anywhere, also in the middle of a sign.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { takeLines } from '../../../shared/store/take-lines.ts';

test('takeLines() gives the lines of a text however it is cut into pieces', () => {
  fc.assert(
    fc.property(fc.array(fc.string({ unit: 'grapheme' })), fc.array(fc.nat(12)), (texts, sizes) => {
      const lines = texts.map((text) => text.replaceAll(/\s/g, '_'));
      const bytes = Buffer.from(lines.join('\n'));
      const found: string[] = [];
      const taker = takeLines((line) => found.push(line));
      let at = 0;
      for (const size of sizes) {
        taker.take(bytes.subarray(at, at + size));
        at += size;
      }
      taker.take(bytes.subarray(at));
      taker.end();
      expect(found).toEqual(lines.filter((line) => line.trim() !== '').map((line) => line.trim()));
    }),
  );
});
