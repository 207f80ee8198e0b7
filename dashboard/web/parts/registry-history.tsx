import type { Page } from '../../../shared/api.ts';
import type { RegistryHistoryLine } from '../../../shared/settings-api.ts';
import { fieldChangeWords } from '../../views/registry-changes.ts';
import { timeWords } from '../../views/site-time.ts';
import { get, query } from '../api.ts';
import { useResource } from '../use-resource.ts';

const SHOWN = 100;

/** Who changed what of a site, known since when and valid from when. `round` changes when it must be read anew. */
export function RegistryHistory(props: { readonly site: string; readonly zone: string; readonly round: string }) {
  const { zone } = props;
  const lines = useResource<Page<RegistryHistoryLine>>(`registry-history ${props.site} ${props.round}`, () => get<Page<RegistryHistoryLine>>(`/registry/history${query({ site: props.site, limit: SHOWN })}`));
  return (
    <details>
      <summary>What was changed, newest first ({zone})</summary>
      {lines.error !== undefined && <p class="problem">{lines.error}</p>}
      <ul class="cards">
        {(lines.value?.items ?? []).map((line) => (
          <li key={line.recordedAt}>
            <p>
              <strong>{timeWords(Date.parse(line.recordedAt), zone)}</strong>, {line.by}
              {Date.parse(line.validFrom) === 0 ? '; holds for all the past' : line.validFrom === line.recordedAt ? '' : `; so since ${timeWords(Date.parse(line.validFrom), zone)}`}
            </p>
            <ul>
              {line.fields.slice(0, 12).map((one) => (
                <li key={one.where}>{fieldChangeWords(one)}</li>
              ))}
              {line.fields.length > 12 && <li>and {line.fields.length - 12} more</li>}
              {line.fields.length === 0 && <li>nothing</li>}
            </ul>
          </li>
        ))}
      </ul>
    </details>
  );
}
