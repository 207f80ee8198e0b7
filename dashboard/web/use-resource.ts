import { useCallback, useEffect, useRef, useState } from 'preact/hooks';

export type Resource<T> = { readonly value: T | undefined; readonly error: string | undefined; readonly reload: () => void };

/** What was loaded last, by name: coming back to a page shows it at once, and it is loaded anew all the same. */
const kept = new Map<string, unknown>();
const MOST_KEPT = 40;

function keep(name: string, value: unknown): void {
  kept.delete(name);
  kept.set(name, value);
  const oldest = kept.keys().next();
  if (kept.size > MOST_KEPT && oldest.done !== true) kept.delete(oldest.value);
}

/**
 * Load something, and load it again when `name` changes or `reload` is called. While it is loaded again the old value stays;
 * after a failed reload too, with the error beside it, so that a page never goes blank under a reader.
 */
export function useResource<T>(name: string, load: (partial: (value: T) => void) => Promise<T>): Resource<T> {
  const [state, setState] = useState<{ name: string; value: T | undefined; error: string | undefined }>({ name, value: kept.get(name) as T | undefined, error: undefined });
  const [round, setRound] = useState(0);
  const loadNow = useRef(load);
  loadNow.current = load;
  useEffect(() => {
    let gone = false;
    let whole = false;
    setState((old) => (old.name === name ? old : { name, value: kept.get(name) as T | undefined, error: undefined }));
    const partial = (value: T): void => {
      // A first load shows what has come; a reload swaps whole lists only, so that rows don't vanish and come back.
      if (!gone && !whole && !kept.has(name)) setState({ name, value, error: undefined });
    };
    const run = async (): Promise<void> => {
      try {
        const value = await loadNow.current(partial);
        whole = true;
        keep(name, value);
        if (!gone) setState({ name, value, error: undefined });
      } catch (error) {
        if (!gone) setState((old) => ({ ...old, name, error: error instanceof Error ? error.message : String(error) }));
      }
    };
    void run();
    return () => {
      gone = true;
    };
  }, [name, round]);
  const reload = useCallback(() => setRound((old) => old + 1), []);
  return { value: state.name === name ? state.value : undefined, error: state.name === name ? state.error : undefined, reload };
}
