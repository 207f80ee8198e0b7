import { useEffect, useState } from 'preact/hooks';

/** Where the page is: path and query of the address, which also keeps every filter. */
export type Location = { readonly path: string; readonly query: URLSearchParams };

const CHANGED = 'lull-address';

export function currentLocation(): Location {
  return { path: window.location.pathname, query: new URLSearchParams(window.location.search) };
}

/** Go to an address of ours without loading the page anew. */
export function go(href: string): void {
  window.history.replaceState({ scrollPx: window.scrollY }, '');
  window.history.pushState(null, '', href);
  window.dispatchEvent(new Event(CHANGED));
  window.scrollTo(0, 0);
}

/** Change the query in place, as filters do; an empty value takes the name out. */
export function setQuery(changes: Readonly<Record<string, string>>): void {
  const query = new URLSearchParams(window.location.search);
  for (const [name, value] of Object.entries(changes)) {
    if (value === '') query.delete(name);
    else query.set(name, value);
  }
  const text = query.toString();
  window.history.replaceState(window.history.state, '', window.location.pathname + (text === '' ? '' : `?${text}`));
  window.dispatchEvent(new Event(CHANGED));
}

/** The address as state; links inside the page change it without a reload, with modifiers they stay the browser's. */
export function useLocation(): Location {
  const [location, setLocation] = useState(currentLocation);
  useEffect(() => {
    const changed = (): void => setLocation(currentLocation());
    const popped = (event: PopStateEvent): void => {
      changed();
      // Back in a long list the reader stands where they left it, once it is drawn.
      const scrollPx = (event.state as { scrollPx?: number } | null)?.scrollPx;
      if (scrollPx !== undefined) window.setTimeout(() => window.scrollTo(0, scrollPx), 50);
    };
    const clicked = (event: MouseEvent): void => {
      if (event.defaultPrevented || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
      const link = event.target instanceof Element ? event.target.closest('a[href]') : null;
      const href = link?.getAttribute('href') ?? '';
      if (link === null || !href.startsWith('/') || href.startsWith('/api/') || link.hasAttribute('download') || link.hasAttribute('target')) return;
      event.preventDefault();
      go(href);
    };
    window.addEventListener('popstate', popped);
    window.addEventListener(CHANGED, changed);
    document.addEventListener('click', clicked);
    return () => {
      window.removeEventListener('popstate', popped);
      window.removeEventListener(CHANGED, changed);
      document.removeEventListener('click', clicked);
    };
  }, []);
  return location;
}

export function generatorHref(site: string, generator: string): string {
  return `/generators/${encodeURIComponent(site)}/${encodeURIComponent(generator)}`;
}
