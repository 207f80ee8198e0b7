import type { ComponentChildren } from 'preact';
import type { Status } from '../../../shared/api.ts';
import { bytesWords, group, NBSP } from '../../views/number-words.ts';
import { ageWords } from '../../views/site-time.ts';

/** One line that watches the watcher: quiet while all is well, in plain words when something wants a person. */
export function WatchLine(props: { readonly status: Status; readonly nowMs: number }) {
  const { status, nowMs } = props;
  const age = (iso: string | null): string => (iso === null ? 'none yet' : ageWords(Date.parse(iso), nowMs));
  // On a phone the minor facts are left out: whatever is wrong with them stands in `wants` in words.
  const facts: readonly (readonly [words: ComponentChildren, minor: boolean])[] = [
    [status.brokerConnected ? 'broker connected' : `broker not connected: ${status.brokerSays}`, false],
    [`last reading ${age(status.lastReadingAt)}`, false],
    [`${group(status.readingsPerMinute)}${NBSP}readings/min`, true],
    [`last look by analysis ${age(status.lastTickAt)}`, false],
    [`${group(status.queueLength)} waiting to be stored`, true],
    [status.quarantined > 0 ? <a href="/gateways">{group(status.quarantined)} in quarantine</a> : 'none in quarantine', false],
    [`store ${status.storeWritable ? bytesWords(status.storeBytes) : 'cannot be written'}`, status.storeWritable],
    ...(status.diskFreeBytes === null ? [] : [[`${bytesWords(status.diskFreeBytes)} free on disk`, true] as const]),
  ];
  return (
    <section class={status.wants.length > 0 ? 'watch watch-wants' : 'watch'} aria-label="State of this service">
      {status.wants.length > 0 && (
        <p class="wants" role="status">
          <strong>This service wants a person:</strong> {status.wants.join('; ')}
        </p>
      )}
      <p>
        {facts.map(([words, minor], index) => (
          <span key={index} class={minor ? 'fact fact-minor' : 'fact'}>
            {words}
          </span>
        ))}
      </p>
    </section>
  );
}
