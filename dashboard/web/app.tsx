import { useEffect, useRef } from 'preact/hooks';
import { spanWords } from '../views/site-time.ts';
import { useNowMs, useStatus } from './live.ts';
import { GatewaysPage } from './pages/gateways.tsx';
import { GeneratorPage } from './pages/generator.tsx';
import { OverviewPage } from './pages/overview.tsx';
import { ServiceListPage } from './pages/service-list.tsx';
import { LoadedPage } from './parts/loaded-page.tsx';
import { WordsOfCare } from './parts/words-of-care.tsx';
import { type Location, useLocation } from './router.ts';

const NAVIGATION = [
  { href: '/', name: 'Overview' },
  { href: '/plan', name: 'Plan' },
  { href: '/service-list', name: 'Service list' },
  { href: '/visits', name: 'Visits' },
  { href: '/records', name: 'Records' },
  { href: '/gateways', name: 'Gateways' },
  { href: '/notices', name: 'Notices' },
  { href: '/settings', name: 'Settings' },
  { href: '/replay', name: 'Replay' },
] as const;

/** A part of a path as it was before it was written into an address; broken writing is shown as it stands. */
function decoded(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

function pageOf(location: Location) {
  const [, first, site, generator, more] = location.path.split('/');
  if (location.path === '/') return <OverviewPage query={location.query} />;
  if (first === 'generators' && site !== undefined && generator !== undefined && more === undefined) return <GeneratorPage key={location.path} site={decoded(site)} generator={decoded(generator)} />;
  if (first === 'findings' && site !== undefined && generator === undefined) return <LoadedPage key={location.path} name={location.path} load={async () => (await import('./pages/finding.tsx')).FindingPage} with={{ id: decoded(site), query: location.query }} />;
  if (location.path === '/hand-over') return <LoadedPage name="hand-over" load={async () => (await import('./pages/hand-over.tsx')).HandOverPage} with={{ query: location.query }} />;
  if (location.path === '/plan') return <LoadedPage name="plan" load={async () => (await import('./pages/plan.tsx')).PlanPage} with={{ query: location.query }} />;
  if (location.path === '/notices') return <LoadedPage name="notices" load={async () => (await import('./pages/notices.tsx')).NoticesPage} with={{}} />;
  if (location.path === '/settings') return <LoadedPage name="settings" load={async () => (await import('./pages/settings.tsx')).SettingsPage} with={{ query: location.query }} />;
  if (first === 'settings' && site !== undefined && generator === undefined) return <LoadedPage name={location.path} load={async () => (await import('./pages/site-settings.tsx')).SiteSettingsPage} with={{ site: decoded(site), query: location.query }} />;
  if (location.path === '/replay') return <LoadedPage name="replay" load={async () => (await import('./pages/replay.tsx')).ReplayPage} with={{}} />;
  if (location.path === '/gateways') return <GatewaysPage query={location.query} />;
  if (location.path === '/visits') return <LoadedPage name="visits" load={async () => (await import('./pages/visits.tsx')).VisitsPage} with={{}} />;
  if (first === 'visits' && site !== undefined && generator === undefined) return <LoadedPage name={location.path} load={async () => (await import('./pages/visit.tsx')).VisitPage} with={{ id: decoded(site), query: location.query }} />;
  if (location.path === '/records') return <LoadedPage name="records" load={async () => (await import('./pages/records.tsx')).RecordsPage} with={{ query: location.query }} />;
  if (location.path === '/service-list') return <ServiceListPage />;
  return (
    <>
      <h1>No such page</h1>
      <p>
        Nothing lives at <code>{location.path}</code>. <a href="/">Go to the Overview</a>
      </p>
    </>
  );
}

/** Silence of the server beyond this is said: seven status messages were missed. */
const SILENT_MS = 15_000;

/** These say in their own line, and in more words, what the service wants. */
const WATCHING = ['/', '/gateways'];

/** Above every page: whether its readings are simulated, whether it still hears the server, and whether that still hears the gateways. */
function Banners(props: { readonly path: string }) {
  const { status, silentForMs } = useStatus();
  useNowMs(5000);
  const lost = silentForMs > SILENT_MS;
  const deaf = !lost && status !== undefined && (!status.brokerConnected || !status.storeWritable) && !WATCHING.includes(props.path);
  if (status?.simulated !== true && !lost && !deaf) return null;
  return (
    <section aria-label="About what you see">
      {status?.simulated === true && (
        <p class="banner banner-simulated">
          <strong>Simulated readings.</strong> Every site and every name here is invented.
          {status.timeScale !== 1 && ` One second here is ${status.timeScale} seconds there.`}
        </p>
      )}
      {deaf && (
        <p class="banner banner-lost" role="status">
          <strong>{status.brokerConnected ? 'Readings can’t be stored' : 'No broker is connected'}, so no new readings come in.</strong> What you see may be old. <a href="/gateways">What is wrong</a>
        </p>
      )}
      {lost && (
        <p class="banner banner-lost" role="status">
          <strong>The server has not been heard for {spanWords(silentForMs)}.</strong> Trying again. What you see is as old as that.
        </p>
      )}
    </section>
  );
}

export function App() {
  const location = useLocation();
  const main = useRef<HTMLElement>(null);
  const path = useRef(location.path);
  useEffect(() => {
    // After a change of page the reader starts at its top, with keyboard and screen reader too.
    if (path.current === location.path) return;
    path.current = location.path;
    main.current?.focus({ preventScroll: true });
  }, [location.path]);
  return (
    <>
      <a class="skip" href="#content" onClick={(event) => (event.preventDefault(), main.current?.focus())}>
        Skip to content
      </a>
      <header class="top">
        <span class="name">Lull</span>
        <nav aria-label="Pages">
          <ul>
            {NAVIGATION.map(({ href, name }) => (
              <li key={href}>
                <a href={href} aria-current={location.path === href ? 'page' : undefined}>
                  {name}
                </a>
              </li>
            ))}
          </ul>
        </nav>
      </header>
      <Banners path={location.path} />
      <main id="content" ref={main} tabIndex={-1}>
        {pageOf(location)}
      </main>
      <WordsOfCare />
    </>
  );
}
