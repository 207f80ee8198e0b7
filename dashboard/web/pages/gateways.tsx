import { useEffect, useState } from 'preact/hooks';
import type { GatewayRow } from '../../../shared/api.ts';
import { REFUSAL_WORDS } from '../../views/domain-words.ts';
import { group, valueWords } from '../../views/number-words.ts';
import { ageWords, spanWords, timeWords } from '../../views/site-time.ts';
import { getAll } from '../api.ts';
import { useLive, useNowMs, useStatus } from '../live.ts';
import { ConnectHelp } from '../parts/connect-help.tsx';
import { Packets } from '../parts/packets.tsx';
import { QuarantinePart } from '../parts/quarantine-part.tsx';
import { WatchLine } from '../parts/watch-line.tsx';
import { generatorHref, setQuery } from '../router.ts';
import { useResource } from '../use-resource.ts';

type GeneratorAtGateway = GatewayRow['generators'][number];

/** What comes in and from where: gateways, their generators, channels and units, what was refused and why, and how to connect one. */
export function GatewaysPage(props: { readonly query: URLSearchParams }) {
  const nowMs = useNowMs(5000);
  const { status } = useStatus();
  const gateways = useResource<readonly GatewayRow[]>('gateways', (partial) => getAll<GatewayRow>('/gateways', {}, partial));
  useLive('', { tick: gateways.reload });
  useEffect(() => {
    document.title = 'Gateways · Lull';
  }, []);
  const text = props.query.get('text') ?? '';
  const wanted = (gateways.value ?? []).filter((row) => `${row.site} ${row.siteName} ${row.gateway ?? ''} ${row.generators.map((one) => `${one.generator} ${one.generatorName}`).join(' ')}`.toLowerCase().includes(text.toLowerCase()));
  const silent = wanted.filter((row) => row.online === false || row.generators.some((one) => one.silent));
  const rest = wanted.filter((row) => !silent.includes(row));
  return (
    <>
      <h1>Gateways</h1>
      {status !== undefined && <WatchLine status={status} nowMs={nowMs} />}
      <form class="filters" role="search" aria-label="Filter" onSubmit={(event) => event.preventDefault()}>
        <label class="field field-text">
          <span>Site, gateway or generator</span>
          <input type="search" value={text} autocomplete="off" onInput={(event) => setQuery({ text: event.currentTarget.value })} />
        </label>
        <p class="count" role="status">
          {gateways.value !== undefined && `${wanted.length} of ${gateways.value.length} gateways`}
        </p>
        <p class="count">
          <a href="#quarantine">Quarantine</a> · <a href="#connect">How to connect a gateway</a>
        </p>
      </form>
      {gateways.error !== undefined && (
        <p class="problem" role="alert">
          {gateways.error} <button type="button" onClick={gateways.reload}>Try again</button>
        </p>
      )}
      {gateways.value === undefined && gateways.error === undefined && <p class="quiet">Loading…</p>}
      {gateways.value?.length === 0 && <p>No gateway has been heard yet.</p>}
      {silent.length > 0 && <h2>Silent, or silent in part</h2>}
      {silent.map((row) => (
        <Gateway key={`${row.site} ${row.gateway ?? ''}`} row={row} nowMs={nowMs} open={silent.length <= 2} />
      ))}
      {rest.length > 0 && <h2>Heard as they should be</h2>}
      {rest.map((row) => (
        <Gateway key={`${row.site} ${row.gateway ?? ''}`} row={row} nowMs={nowMs} open={wanted.length === 1} />
      ))}
      <QuarantinePart nowMs={nowMs} />
      <ConnectHelp />
    </>
  );
}

function Gateway(props: { readonly row: GatewayRow; readonly nowMs: number; readonly open: boolean }) {
  const { row, nowMs } = props;
  // As it was when the page came; from then on the reader opens and shuts it.
  const [open] = useState(props.open);
  const changed = row.changedAt === null ? '' : ` for ${spanWords(Math.max(0, nowMs - Date.parse(row.changedAt)))}`;
  const silent = row.generators.filter((one) => one.silent).length;
  const odd = row.generators.flatMap((one) => one.channels).filter((channel) => !channel.plausible).length;
  const refused = row.generators.flatMap((one) => one.refused).reduce((sum, one) => sum + one.count, 0);
  return (
    <details class="gateway" open={open}>
      <summary>
        <strong>{row.gateway === null ? `${row.siteName}: gateway not named` : `${row.siteName}, gateway ${row.gateway}`}</strong> {row.siteName !== row.site && <code>{row.site}</code>}{' '}
        <span class={row.online === false ? 'silent' : 'quiet'}>
          {row.online === null ? 'sends no presence' : row.online ? `online${changed}` : `offline${changed}`}; {row.generators.length} {row.generators.length === 1 ? 'generator' : 'generators'}
        </span>
        {silent > 0 && <span class="silent">, {silent} silent</span>}
        {odd > 0 && (
          <span class="odd">
            , {odd} {odd === 1 ? 'channel looks' : 'channels look'} odd
          </span>
        )}
        {refused > 0 && <span class="odd">, {group(refused)} refused</span>}
      </summary>
      {row.generators.map((generator) => (
        <GeneratorAt key={generator.generator} site={row.site} generator={generator} nowMs={nowMs} />
      ))}
    </details>
  );
}

function GeneratorAt(props: { readonly site: string; readonly generator: GeneratorAtGateway; readonly nowMs: number }) {
  const { site, generator, nowMs } = props;
  return (
    <section class="generator-at" aria-label={`${site}, ${generator.generatorName}`}>
      <h3>
        <a href={generatorHref(site, generator.generator)}>{generator.generatorName}</a> {generator.generatorName !== generator.generator && <code>{generator.generator}</code>}
      </h3>
      <p class={generator.silent ? 'silent' : 'quiet'}>
        {generator.lastHeardAt === null ? 'never heard' : `last heard ${ageWords(Date.parse(generator.lastHeardAt), nowMs)}`}
        {generator.silent && ', silent for longer than three reports'}; {generator.reportEveryS === null ? 'report period not known yet' : `reports every ${spanWords(generator.reportEveryS * 1000)}`}
        {!generator.claimed && (
          <>
            ; <a href={`/settings/${encodeURIComponent(site)}?generator=${encodeURIComponent(generator.generator)}`}>not in the registry yet</a>
          </>
        )}
      </p>
      {generator.refused.length > 0 && (
        <ul>
          {generator.refused.map((one) => (
            <li key={one.reason}>
              <span class="odd">
                {group(one.count)} refused: {REFUSAL_WORDS[one.reason]}
              </span>
              , last {ageWords(Date.parse(one.lastAt), nowMs)}
            </li>
          ))}
        </ul>
      )}
      {generator.channels.length > 0 && (
        <table class="values stacked">
          <thead>
            <tr>
              <th scope="col">Channel</th>
              <th scope="col">Kept value</th>
              <th scope="col">Sent as</th>
              <th scope="col">Age</th>
              <th scope="col">Looks plausible</th>
            </tr>
          </thead>
          <tbody>
            {generator.channels.map((channel) => (
              <tr key={channel.channel} class={channel.fresh ? '' : 'old-value'}>
                <th scope="row">
                  {channel.label} <code>{channel.channel}</code>
                </th>
                <td data-name="Kept value">
                  {channel.fresh ? '' : 'was '}
                  {valueWords(channel.value, channel.unit)}
                </td>
                <td data-name="Sent as">{channel.sentUnit !== null ? <code>{channel.sentUnit}</code> : channel.unit === '0/1' ? 'true or false' : 'not known'}</td>
                <td data-name="Age" title={`${timeWords(Date.parse(channel.at), 'UTC')} UTC`}>
                  {channel.fresh ? '' : 'old: '}
                  {ageWords(Date.parse(channel.at), nowMs)}
                </td>
                <td data-name="Looks plausible" class={channel.plausible ? '' : 'odd'}>
                  {channel.plausible ? 'yes' : `no: ${channel.plausibleSays}`}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      <Packets site={site} generator={generator.generator} nowMs={nowMs} />
    </section>
  );
}
