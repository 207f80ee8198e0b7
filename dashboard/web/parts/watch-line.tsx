import type { Status } from '../../../shared/api.ts';
import { bytesWords, group } from '../../views/number-words.ts';
import { ageWords } from '../../views/site-time.ts';

/** One line that watches the watcher: quiet while all is well, in plain words when something wants a person. */
export function WatchLine(props: { readonly status: Status; readonly nowMs: number }) {
  const { status, nowMs } = props;
  const age = (iso: string | null): string => (iso === null ? 'none yet' : ageWords(Date.parse(iso), nowMs));
  const facts = [
    status.brokerConnected ? 'broker connected' : `broker not connected: ${status.brokerSays}`,
    `last reading ${age(status.lastReadingAt)}`,
    `${group(status.readingsPerMinute)} readings/min`,
    `last look by analysis ${age(status.lastTickAt)}`,
    `${group(status.queueLength)} waiting to be stored`,
    status.quarantined > 0 ? <a href="/gateways">{group(status.quarantined)} in quarantine</a> : 'none in quarantine',
    `store ${status.storeWritable ? bytesWords(status.storeBytes) : 'can not be written'}`,
    ...(status.diskFreeBytes === null ? [] : [`${bytesWords(status.diskFreeBytes)} free on disk`]),
  ];
  return (
    <section class={status.wants.length > 0 ? 'watch watch-wants' : 'watch'} aria-label="State of this service">
      {status.wants.length > 0 && (
        <p class="wants" role="status">
          <strong>This service wants a person:</strong> {status.wants.join('; ')}
        </p>
      )}
      <p>
        {facts.map((fact, index) => (
          <span key={index} class="fact">
            {fact}
          </span>
        ))}
      </p>
    </section>
  );
}
