import { useEffect, useState } from 'preact/hooks';
import type { RegistryAnswer, SiteAsKept } from '../../../shared/settings-api.ts';
import { ageWords } from '../../views/site-time.ts';
import { get } from '../api.ts';
import { useNowMs } from '../live.ts';
import { RegistryFile } from '../parts/registry-file.tsx';
import { SiteForm } from '../parts/site-form.tsx';
import { UnitsPart } from '../parts/units-part.tsx';
import { go, setQuery } from '../router.ts';
import { useResource } from '../use-resource.ts';

export function siteSettingsHref(site: string, generator?: string): string {
  return `/settings/${encodeURIComponent(site)}${generator === undefined ? '' : `?generator=${encodeURIComponent(generator)}`}`;
}

/** Units, sites, generators that wait to be registered, and the registry as a file. */
export function SettingsPage(props: { readonly query: URLSearchParams }) {
  const nowMs = useNowMs(10_000);
  const registry = useResource<RegistryAnswer>('registry', () => get<RegistryAnswer>('/registry'));
  const [adding, setAdding] = useState<string | undefined>(undefined);
  useEffect(() => {
    document.title = 'Settings · Lull';
  }, []);
  const text = props.query.get('text') ?? '';
  const sites = registry.value?.sites ?? [];
  const shown = sites.filter(({ site }) => `${site.id} ${site.name ?? ''} ${site.area ?? ''}`.toLowerCase().includes(text.toLowerCase()));
  const unclaimed = registry.value?.unclaimed ?? [];
  const registered = new Set(sites.map(({ site }) => site.id));
  return (
    <>
      <h1>Settings</h1>
      {registry.error !== undefined && (
        <p class="problem" role="alert">
          {registry.error} <button type="button" onClick={registry.reload}>Try again</button>
        </p>
      )}
      <UnitsPart />
      {unclaimed.length > 0 && (
        <section aria-labelledby="unclaimed-title">
          <h2 id="unclaimed-title">Heard, and not registered yet</h2>
          <ul class="cards">
            {unclaimed.map((one) => (
              <li key={`${one.site}/${one.generator}`}>
                <strong>
                  {one.site}, {one.generator}
                </strong>{' '}
                <span class="quiet">{one.lastHeardAt === null ? 'not heard' : `last heard ${ageWords(Date.parse(one.lastHeardAt), nowMs)}`}</span>{' '}
                {registered.has(one.site) ? (
                  <a class="button" href={siteSettingsHref(one.site, one.generator)}>
                    Register<span class="unseen"> {one.site}, {one.generator}</span>…
                  </a>
                ) : (
                  <button type="button" onClick={() => setAdding(one.site)}>
                    Register its site first<span class="unseen"> ({one.site})</span>…
                  </button>
                )}
              </li>
            ))}
          </ul>
          <p class="quiet">Until it is registered, a generator is analysed with defaults and days of UTC.</p>
        </section>
      )}
      <section aria-labelledby="sites-title">
        <h2 id="sites-title">Sites</h2>
        {registry.value === undefined && registry.error === undefined && <p class="quiet">Loading…</p>}
        {registry.value !== undefined && sites.length === 0 && <p>No site is registered yet.</p>}
        {sites.length > 10 && (
          <form class="filters" role="search" aria-label="Filter" onSubmit={(event) => event.preventDefault()}>
            <label class="field field-text">
              <span>Site or area</span>
              <input type="search" value={text} autocomplete="off" onInput={(event) => setQuery({ text: event.currentTarget.value })} />
            </label>
            <p class="count" role="status">
              {shown.length} of {sites.length} sites
            </p>
          </form>
        )}
        {shown.length > 0 && <Sites sites={shown} />}
        {adding === undefined ? (
          <button type="button" onClick={() => setAdding('')}>
            Add a site…
          </button>
        ) : (
          <SiteForm
            key={adding}
            kept={undefined}
            id={adding}
            onSaved={(id) => {
              registry.reload();
              go(siteSettingsHref(id));
            }}
            onCancel={() => setAdding(undefined)}
          />
        )}
      </section>
      <RegistryFile onImported={registry.reload} />
    </>
  );
}

function Sites({ sites }: { readonly sites: readonly SiteAsKept[] }) {
  return (
    <table class="rows stacked">
      <thead>
        <tr>
          <th scope="col">Site</th>
          <th scope="col">Area</th>
          <th scope="col">Zone</th>
          <th scope="col">Generators</th>
        </tr>
      </thead>
      <tbody>
        {sites.map(({ site }) => (
          <tr key={site.id}>
            <th scope="row">
              <a href={siteSettingsHref(site.id)}>{site.name ?? site.id}</a> {site.name !== undefined && <code>{site.id}</code>}
            </th>
            <td data-name="Area">{site.area ?? '–'}</td>
            <td data-name="Zone">{site.timeZone}</td>
            <td data-name="Generators">{site.generators.length === 0 ? 'none' : site.generators.map((one) => one.id).join(', ')}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
