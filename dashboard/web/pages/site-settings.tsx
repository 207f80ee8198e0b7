import { useEffect, useRef, useState } from 'preact/hooks';
import type { GeneratorRecord } from '../../../shared/registry.ts';
import type { RegistryAnswer, SiteAsKept } from '../../../shared/settings-api.ts';
import { percentWords, valueWords } from '../../views/number-words.ts';
import { get } from '../api.ts';
import { useNowMs } from '../live.ts';
import { ExchangeForm } from '../parts/exchange-form.tsx';
import { SaidLine, TextField } from '../parts/form-fields.tsx';
import { GeneratorForm } from '../parts/generator-form.tsx';
import { RegistryHistory } from '../parts/registry-history.tsx';
import { SiteForm } from '../parts/site-form.tsx';
import { TypedMeter } from '../parts/typed-meter.tsx';
import { generatorHref, setQuery } from '../router.ts';
import { useResource } from '../use-resource.ts';
import type { Said } from '../use-send.ts';

/** What a generator is before anybody said anything of it: the defaults of the registry. */
function blank(id: string): GeneratorRecord {
  return {
    id, kind: 'membrane', layout: 'direct', nitrogenLimit: 0.98, nitrogenAt: 'product', fitted: {}, serviceEvery: { days: 365, runHours: 2000 }, channels: {}, limits: { dutyRatio: 0.5, elementDropKPa: 70, deliveryShare: 0.7 }, risers: [], valves: [], outOfService: false,
  };
}

/** One site: its fields, its generators, and who changed what. The generator that is open stands in the address. */
export function SiteSettingsPage(props: { readonly site: string; readonly query: URLSearchParams }) {
  const nowMs = useNowMs(60_000);
  const registry = useResource<RegistryAnswer>('registry', () => get<RegistryAnswer>('/registry'));
  const [said, setSaid] = useState<Said | undefined>(undefined);
  const [editing, setEditing] = useState(false);
  const title = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    document.title = `${props.site} · Settings · Lull`;
  }, [props.site]);
  const kept = registry.value?.sites.find(({ site }) => site.id === props.site);
  const open = props.query.get('generator') ?? '';
  const saved = (words: string): void => {
    setSaid({ problem: false, words });
    setEditing(false);
    setQuery({ generator: '' });
    registry.reload();
    title.current?.focus();
  };
  return (
    <>
      <p>
        <a href="/settings">All settings</a>
      </p>
      <h1 ref={title} tabIndex={-1}>{kept?.site.name ?? props.site}</h1>
      {registry.error !== undefined && (
        <p class="problem" role="alert">
          {registry.error} <button type="button" onClick={registry.reload}>Try again</button>
        </p>
      )}
      <SaidLine said={said} />
      {registry.value === undefined && registry.error === undefined && <p class="quiet">Loading…</p>}
      {registry.value !== undefined && kept === undefined && <p>No site has the id {props.site}. Add it under Settings.</p>}
      {kept !== undefined && (
        <>
          {editing ? <SiteForm key={kept.recordedAt} kept={kept} onSaved={(_id, words) => saved(words)} onCancel={() => setEditing(false)} /> : <SiteFacts kept={kept} onEdit={() => setEditing(true)} />}
          <Generators kept={kept} open={open} unclaimed={(registry.value?.unclaimed ?? []).filter((one) => one.site === kept.site.id).map((one) => one.generator)} onSaved={saved} />
          <ExchangeForm key={`exchange ${kept.recordedAt}`} kept={kept} onSaved={saved} />
          <TypedMeter site={kept.site.id} zone={kept.site.timeZone} generators={kept.site.generators.map((one) => one.id)} nowMs={nowMs} />
          <RegistryHistory site={kept.site.id} zone={kept.site.timeZone} round={kept.recordedAt} />
        </>
      )}
    </>
  );
}

function SiteFacts({ kept, onEdit }: { readonly kept: SiteAsKept; readonly onEdit: () => void }) {
  const { site } = kept;
  const facts = [site.area, site.address, site.timeZone, site.elevationM === 0 ? undefined : `${site.elevationM} m above the sea`].filter((one) => one !== undefined);
  return (
    <>
      <p>
        <code>{site.id}</code> · {facts.join(' · ')}
      </p>
      {site.access !== undefined && <p>Access: {site.access}</p>}
      <button type="button" onClick={onEdit}>
        Change the site…
      </button>
    </>
  );
}

function Generators(props: { readonly kept: SiteAsKept; readonly open: string; readonly unclaimed: readonly string[]; readonly onSaved: (words: string) => void }) {
  const { kept, open } = props;
  const [newId, setNewId] = useState('');
  const known = kept.site.generators.find((one) => one.id === open);
  const form = open !== '' && (
    <GeneratorForm key={`${open} ${kept.recordedAt}`} kept={kept} generator={known ?? blank(open)} isNew={known === undefined} onSaved={props.onSaved} onCancel={() => setQuery({ generator: '' })} />
  );
  return (
    <section aria-labelledby="generators-title">
      <h2 id="generators-title">Generators</h2>
      {kept.site.generators.length === 0 && open === '' && <p class="quiet">None is registered here yet.</p>}
      <ul class="cards">
        {kept.site.generators.map((generator) => (
          <li key={generator.id}>
            <h3>
              <a href={generatorHref(kept.site.id, generator.id)}>{generator.name ?? generator.id}</a> {generator.name !== undefined && <code>{generator.id}</code>}
            </h3>
            <p class="quiet">{generatorFacts(generator)}</p>
            {open === generator.id ? (
              form
            ) : (
              <button type="button" onClick={() => setQuery({ generator: generator.id })}>
                Change…<span class="unseen"> {generator.id}</span>
              </button>
            )}
          </li>
        ))}
        {props.unclaimed.filter((id) => id !== open).map((id) => (
          <li key={id}>
            <h3>{id}</h3>
            <p class="quiet">heard, and not registered yet</p>
            <button type="button" onClick={() => setQuery({ generator: id })}>
              Register it…<span class="unseen"> ({id})</span>
            </button>
          </li>
        ))}
      </ul>
      {open !== '' && known === undefined && (
        <>
          <h3>Register {open}</h3>
          {form}
        </>
      )}
      {open === '' && (
        <form
          class="filters"
          aria-label="Add a generator"
          onSubmit={(event) => {
            event.preventDefault();
            if (/^[a-z0-9-]{1,64}$/.test(newId.trim()) && newId.trim() !== 'presence') setQuery({ generator: newId.trim() });
          }}
        >
          <TextField words="Id of a generator to add" hint="a-z, 0-9 and -" most={64} value={newId} change={setNewId} />
          <button type="submit" disabled={!/^[a-z0-9-]{1,64}$/.test(newId.trim())}>
            Add it…
          </button>
        </form>
      )}
    </section>
  );
}

function generatorFacts(generator: GeneratorRecord): string {
  const { tankLitres, cutInKPa, cutOutKPa, limits, publishesAs, outOfService } = generator;
  return [
    outOfService ? 'out of service' : undefined,
    generator.kind === 'sieve' ? 'sieve beds' : 'membrane',
    tankLitres === undefined ? 'tank unknown' : `tank ${tankLitres} L`,
    cutInKPa !== undefined && cutOutKPa !== undefined ? `${valueWords(cutInKPa, 'kPa')} to ${valueWords(cutOutKPa, 'kPa')}` : undefined,
    `limits: ${percentWords(limits.dutyRatio)} running, ${valueWords(limits.elementDropKPa, 'kPa')} over the elements, ${percentWords(limits.deliveryShare)} of delivery, ${percentWords(generator.nitrogenLimit)} nitrogen`,
    publishesAs === undefined ? undefined : `arrives as ${publishesAs}`,
  ].filter((one) => one !== undefined).join(' · ');
}
