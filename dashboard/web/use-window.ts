import { useEffect, useRef, useState } from 'preact/hooks';
import type { RefObject } from 'preact';

/** Rows in a block; blocks far from what is seen are an empty space of their height. */
export const BLOCK_ROWS = 25;

export type ListWindow = {
  readonly first: number;
  readonly last: number;
  /** Height of a block that isn't drawn, px. */
  readonly heightOf: (block: number) => number;
  /** Make sure that a row is drawn, as when the keyboard goes there. */
  readonly show: (row: number) => void;
};

/**
 * Which blocks of a long list are drawn: those in sight, and one and a half screens around them. Heights are measured when a
 * block is drawn and kept, so that the list keeps its length and the reader their place. `rows` may change at any time.
 */
export function useListWindow(holder: RefObject<HTMLElement | null>, rows: number): ListWindow {
  const blocks = Math.max(1, Math.ceil(rows / BLOCK_ROWS));
  const heights = useRef(new Map<number, number>());
  const [[first, last], setRange] = useState<readonly [number, number]>([0, Math.min(blocks - 1, 1)]);
  const newest = useRef({ first, last, blocks });
  newest.current = { first, last, blocks };

  useEffect(() => {
    let asked = 0;
    const usual = (): number => {
      const known = [...heights.current.values()];
      return known.length === 0 ? BLOCK_ROWS * 74 : known.reduce((sum, one) => sum + one, 0) / known.length;
    };
    const look = (): void => {
      asked = 0;
      const node = holder.current;
      if (node === null) return;
      for (const body of node.querySelectorAll<HTMLElement>('tbody[data-block]')) if (body.dataset['drawn'] === 'yes' && Number(body.dataset['rows']) === BLOCK_ROWS) heights.current.set(Number(body.dataset['block']), body.getBoundingClientRect().height);
      const aroundPx = window.innerHeight * 1.5;
      let topPx = node.getBoundingClientRect().top;
      let from = 0;
      let to = 0;
      for (let block = 0; block < newest.current.blocks; block += 1) {
        const heightPx = heights.current.get(block) ?? usual();
        if (topPx + heightPx < -aroundPx) from = block + 1;
        if (topPx < window.innerHeight + aroundPx) to = block;
        topPx += heightPx;
      }
      from = Math.min(from, newest.current.blocks - 1);
      to = Math.max(from, to);
      if (from !== newest.current.first || to !== newest.current.last) setRange([from, to]);
    };
    const soon = (): void => {
      asked = asked === 0 ? window.requestAnimationFrame(look) : asked;
    };
    const resized = (): void => {
      heights.current.clear();
      soon();
    };
    const all = (): void => setRange([0, newest.current.blocks - 1]);
    soon();
    window.addEventListener('scroll', soon, { passive: true });
    window.addEventListener('resize', resized);
    window.addEventListener('beforeprint', all);
    window.addEventListener('afterprint', soon);
    return () => {
      window.cancelAnimationFrame(asked);
      window.removeEventListener('scroll', soon);
      window.removeEventListener('resize', resized);
      window.removeEventListener('beforeprint', all);
      window.removeEventListener('afterprint', soon);
    };
  }, [rows]);

  const known = [...heights.current.values()];
  const usualPx = known.length === 0 ? BLOCK_ROWS * 74 : known.reduce((sum, one) => sum + one, 0) / known.length;
  return {
    first: Math.min(first, blocks - 1), last: Math.min(last, blocks - 1),
    heightOf: (block) => (heights.current.get(block) ?? usualPx) * (block === blocks - 1 ? (rows - block * BLOCK_ROWS) / BLOCK_ROWS : 1),
    show: (row) => {
      const block = Math.floor(row / BLOCK_ROWS);
      // Around that row only: from one end of a long list to the other nothing between them is drawn.
      if (block < first || block > last) setRange([Math.max(0, block - 1), Math.min(blocks - 1, block + 1)]);
    },
  };
}
