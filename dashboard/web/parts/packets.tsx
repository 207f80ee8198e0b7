import { useState } from 'preact/hooks';
import type { Packet, Page } from '../../../shared/api.ts';
import { REFUSAL_WORDS } from '../../views/domain-words.ts';
import { ageWords, timeWords } from '../../views/site-time.ts';
import { get, query } from '../api.ts';
import { useResource } from '../use-resource.ts';

const SHOWN_LETTERS = 4000;

/** The last packets of a generator as they came, loaded when the reader opens them. */
export function Packets(props: { readonly site: string; readonly generator: string; readonly nowMs: number }) {
  const [open, setOpen] = useState(false);
  return (
    <details onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>Last packets of {props.generator}</summary>
      {open && <PacketList {...props} />}
    </details>
  );
}

function PacketList(props: { readonly site: string; readonly generator: string; readonly nowMs: number }) {
  const { site, generator, nowMs } = props;
  const packets = useResource<Page<Packet>>(`packets ${site}/${generator}`, () => get<Page<Packet>>(`/packets${query({ site, generator })}`));
  if (packets.error !== undefined) {
    return (
      <p class="problem" role="alert">
        {packets.error}
      </p>
    );
  }
  if (packets.value === undefined) return <p class="quiet">Loading…</p>;
  return (
    <>
      <p>
        <button type="button" onClick={packets.reload}>
          Load again
        </button>
      </p>
      {packets.value.items.length === 0 && <p class="quiet">None since this service was started.</p>}
      <ol class="packets">
        {packets.value.items.map((packet, index) => (
          <li key={`${packet.at} ${index}`}>
            <details>
              <summary>
                {timeWords(Date.parse(packet.at), 'UTC')} UTC, {ageWords(Date.parse(packet.at), nowMs)}: {packet.readings} {packet.readings === 1 ? 'reading' : 'readings'} taken
                {packet.refused.length > 0 && <span class="odd">, {packet.refused.length} refused</span>}
              </summary>
              <p>
                <code>{packet.topic}</code>
              </p>
              <pre tabIndex={0}>{packet.payload.length > SHOWN_LETTERS ? `${packet.payload.slice(0, SHOWN_LETTERS)}… (${packet.payload.length} letters)` : packet.payload}</pre>
              {packet.refused.map((one, at) => (
                <p key={at} class="odd">
                  {REFUSAL_WORDS[one.reason]}: {one.says}
                </p>
              ))}
            </details>
          </li>
        ))}
      </ol>
    </>
  );
}
