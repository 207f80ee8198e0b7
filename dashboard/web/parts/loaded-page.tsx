import type { ComponentType } from 'preact';
import { useEffect, useState } from 'preact/hooks';

/** A page whose script is loaded when it is first opened, so that the desk does not carry what only a phone needs, and the other way round. */
export function LoadedPage<P extends object>(props: { readonly name: string; readonly load: () => Promise<ComponentType<P>>; readonly with: P }) {
  const [page, setPage] = useState<{ readonly name: string; readonly Page: ComponentType<P> } | undefined>(undefined);
  const [failed, setFailed] = useState(false);
  useEffect(() => {
    let gone = false;
    props.load().then(
      (Page) => (gone ? undefined : setPage({ name: props.name, Page })),
      () => (gone ? undefined : setFailed(true)),
    );
    return () => {
      gone = true;
    };
  }, [props.name]);
  if (page?.name === props.name) return <page.Page {...props.with} />;
  return failed ? <p class="problem" role="alert">This page could not be loaded. <a href={window.location.pathname} target="_self">Try again</a></p> : <p class="quiet">Loading…</p>;
}
