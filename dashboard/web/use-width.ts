import { useEffect, useRef, useState } from 'preact/hooks';
import type { RefObject } from 'preact';

/** The width of an element, px, so that a picture is drawn at its real size and its letters stay readable on a phone. */
export function useWidthPx<E extends HTMLElement>(startPx: number): readonly [RefObject<E | null>, number] {
  const element = useRef<E>(null);
  const [widthPx, setWidthPx] = useState(startPx);
  useEffect(() => {
    const node = element.current;
    if (node === null) return undefined;
    const take = (): void => setWidthPx(Math.max(240, Math.floor(node.clientWidth)));
    take();
    const observer = new ResizeObserver(take);
    observer.observe(node);
    return () => observer.disconnect();
  }, []);
  return [element, widthPx];
}
