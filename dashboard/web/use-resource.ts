import { useCallback, useEffect, useRef, useState } from 'preact/hooks';

export type Resource<T> = { readonly value: T | undefined; readonly error: string | undefined; readonly reload: () => void };

/**
 * Load something, and load it again when `name` changes or `reload` is called. While it is loaded again the old value stays;
 * after a failed reload too, with the error beside it, so that a page never goes blank under a reader.
 */
export function useResource<T>(name: string, load: (partial: (value: T) => void) => Promise<T>): Resource<T> {
  const [state, setState] = useState<{ name: string; value: T | undefined; error: string | undefined }>({ name, value: undefined, error: undefined });
  const [round, setRound] = useState(0);
  const loadNow = useRef(load);
  loadNow.current = load;
  useEffect(() => {
    let gone = false;
    let whole = false;
    setState((old) => (old.name === name ? old : { name, value: undefined, error: undefined }));
    const partial = (value: T): void => {
      // A first load shows what has come; a reload swaps whole lists only, so that rows don't vanish and come back.
      if (!gone && !whole) setState((old) => (old.value === undefined || old.error !== undefined || round === 0 ? { name, value, error: undefined } : old));
    };
    loadNow.current(partial).then(
      (value) => {
        whole = true;
        if (!gone) setState({ name, value, error: undefined });
      },
      (error: unknown) => {
        if (!gone) setState((old) => ({ ...old, name, error: error instanceof Error ? error.message : String(error) }));
      },
    );
    return () => {
      gone = true;
    };
  }, [name, round]);
  const reload = useCallback(() => setRound((old) => old + 1), []);
  return { value: state.name === name ? state.value : undefined, error: state.name === name ? state.error : undefined, reload };
}
