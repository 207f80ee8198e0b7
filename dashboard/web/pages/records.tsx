import { useEffect, useState } from 'preact/hooks';
import type { SiteRecord } from '../../../shared/registry.ts';
import type { IssuedRecord, RecordKind } from '../../../shared/issued-record.ts';
import type { Visit } from '../../../shared/visit.ts';
import type { HistoryLine } from '../../views/generator-history.ts';
import { dateWords, msOfWallTime, timeWords, wallTime } from '../../views/site-time.ts';
import { getAll, post } from '../api.ts';
import { useLive, useNowMs } from '../live.ts';
import { VisitPhotos } from '../parts/visit-photos.tsx';
import { setQuery } from '../router.ts';
import { useResource } from '../use-resource.ts';
import { rememberedName, rememberName } from '../who.ts';

const DAY_MS = 86_400_000;
const KIND_WORDS: Readonly<Record<RecordKind, string>> = { 'visit-sheet': 'visit sheet', 'owner-report': 'report for the owner' };

/** What was given out, what can be, and the history of a generator; filters stand in the address. */
export function RecordsPage(props: { readonly query: URLSearchParams }) {
  const [site, generator, visit] = ['site', 'generator', 'visit'].map((name) => props.query.get(name) ?? '') as [string, string, string];
  const sites = useResource<readonly SiteRecord[]>('sites', () => getAll<SiteRecord>('/sites'));
  const records = useResource<readonly IssuedRecord[]>(`records ${site} ${generator} ${visit}`, () => getAll<IssuedRecord>('/records', { site, generator, visit }));
  useLive('', { tick: records.reload });
  useEffect(() => {
    document.title = 'Records · Lull';
  }, []);
  const known = sites.value ?? [];
  const one = known.find((other) => other.id === site);
  return (
    <>
      <h1>Records</h1>
      <p class="quiet">A record is never changed once it is issued. What is known better later is issued as the next revision of its number.</p>
      <div class="filters">
        <label class="field">
          <span>Site</span>
          <select value={site} onChange={(event) => setQuery({ site: event.currentTarget.value, generator: '', visit: '' })}>
            <option value="">all sites</option>
            {site !== '' && one === undefined && <option value={site}>{site}</option>}
            {known.map((other) => (
              <option key={other.id} value={other.id}>
                {other.name ?? other.id}
              </option>
            ))}
          </select>
        </label>
        {one !== undefined && (
          <label class="field">
            <span>Generator</span>
            <select value={generator} onChange={(event) => setQuery({ generator: event.currentTarget.value })}>
              <option value="">all of them</option>
              {one.generators.map((other) => (
                <option key={other.id} value={other.id}>
                  {other.name ?? other.id}
                </option>
              ))}
            </select>
          </label>
        )}
        {visit !== '' && (
          <button type="button" onClick={() => setQuery({ visit: '' })}>
            Of one visit: show all
          </button>
        )}
      </div>
      {site === '' && <p>Choose a site to issue the sheet of a visit or a report for the owner.</p>}
      {site !== '' && one === undefined && sites.value !== undefined && <p>{site} is not in the registry. Register it under Settings to issue its records.</p>}
      {one !== undefined && <Issue site={site} visit={visit} zone={one.timeZone} nameOf={(id) => one.generators.find((other) => other.id === id)?.name ?? id} issued={records.reload} />}
      <Issued records={records.value} error={records.error} reload={records.reload} zoneOf={(id) => known.find((other) => other.id === id)?.timeZone ?? 'UTC'} />
      {site !== '' && generator !== '' && <History site={site} generator={generator} name={one?.generators.find((other) => other.id === generator)?.name ?? generator} zone={one?.timeZone ?? 'UTC'} />}
    </>
  );
}

function Issued(props: { readonly records: readonly IssuedRecord[] | undefined; readonly error: string | undefined; readonly reload: () => void; readonly zoneOf: (site: string) => string }) {
  const { records } = props;
  const newest = new Map<number, number>();
  for (const record of records ?? []) newest.set(record.number, Math.max(record.revision, newest.get(record.number) ?? 0));
  return (
    <section aria-labelledby="issued-title">
      <h2 id="issued-title">Issued</h2>
      {props.error !== undefined && (
        <p class="problem" role="alert">
          {props.error} <button type="button" onClick={props.reload}>Try again</button>
        </p>
      )}
      {records === undefined && props.error === undefined && <p class="quiet">Loading the records…</p>}
      {records !== undefined && records.length === 0 && <p class="quiet">None yet{props.error === undefined ? '' : ', as far as is known'}.</p>}
      <ul class="visits records">
        {(records ?? []).map((record) => (
          <li key={`${record.number}.${record.revision}`}>
            <a class="record" href={`/api/v1/records/${record.number}/${record.revision}`} target="_blank" rel="noopener">
              Record {record.number}, revision {record.revision}: {record.title}
            </a>
            <span class="under">
              {KIND_WORDS[record.kind]}, issued {timeWords(Date.parse(record.issuedAt), props.zoneOf(record.site))} ({props.zoneOf(record.site)}) by {record.issuedBy}
              {newest.get(record.number) === record.revision ? '' : `; revision ${newest.get(record.number)} is newer`}.{' '}
              <a class="record-csv" href={`/api/v1/records/${record.number}/${record.revision}/figures.csv`} download>
                Figures as CSV
              </a>
            </span>
          </li>
        ))}
      </ul>
    </section>
  );
}

/** Issue a visit's sheet, or a report for the owner over a span of days. */
function Issue(props: { readonly site: string; readonly visit: string; readonly zone: string; readonly nameOf: (generator: string) => string; readonly issued: () => void }) {
  const { site, zone } = props;
  const nowMs = useNowMs(60_000);
  const trips = useResource<readonly Visit[]>(`recorded trips of ${site}`, async () => (await Promise.all((['recorded', 'verified'] as const).map((state) => getAll<Visit>('/trips', { site, state })))).flat());
  const day = (ms: number): string => wallTime(ms, zone).slice(0, 10);
  const midnight = (name: string): string => new Date(msOfWallTime(`${name}T00:00`, zone) ?? NaN).toISOString();
  const [by, setBy] = useState(rememberedName);
  const [from, setFrom] = useState('');
  const [to, setTo] = useState('');
  const [chosen, setChosen] = useState('');
  const [said, setSaid] = useState<{ readonly problem: boolean; readonly words: string; readonly href?: string } | undefined>(undefined);
  const [busy, setBusy] = useState(false);
  const visit = chosen || props.visit || (trips.value?.[0]?.id ?? '');
  const issue = async (body: Record<string, unknown>): Promise<void> => {
    if (by.trim() === '') return setSaid({ problem: true, words: 'Please type your name first.' });
    setBusy(true);
    try {
      const record = await post<IssuedRecord>('/records', { ...body, by: by.trim() });
      rememberName(by.trim());
      setSaid({ problem: false, words: `Issued as record ${record.number}, revision ${record.revision}.`, href: `/api/v1/records/${record.number}/${record.revision}` });
      props.issued();
    } catch (error) {
      setSaid({ problem: true, words: error instanceof Error ? error.message : String(error) });
    }
    setBusy(false);
  };
  return (
    <section aria-labelledby="issue-title" class="issue">
      <h2 id="issue-title">Issue</h2>
      {said !== undefined && (
        <p class={said.problem ? 'problem' : 'done'} role={said.problem ? 'alert' : 'status'}>
          {said.words}{' '}
          {said.href !== undefined && (
            <a class="button" href={said.href} target="_blank" rel="noopener">
              Open and print it
            </a>
          )}
        </p>
      )}
      <div class="form">
        <label class="field">
          <span>Your name</span>
          <input value={by} maxLength={80} autocomplete="name" onInput={(event) => setBy(event.currentTarget.value)} />
        </label>
      </div>
      <div class="form">
        <label class="field field-text">
          <span>Recorded visit</span>
          <select value={visit} onChange={(event) => setChosen(event.currentTarget.value)}>
            {(trips.value ?? []).length === 0 && <option value="">none is recorded here</option>}
            {(trips.value ?? []).map((trip) => (
              <option key={trip.id} value={trip.id}>
                {dateWords(Date.parse(trip.performedAt ?? trip.updatedAt), zone)}, {trip.generators.map(props.nameOf).join(', ')}, {trip.signed?.by ?? trip.technician ?? 'nobody named'}
              </option>
            ))}
          </select>
        </label>
        <button type="button" disabled={busy || visit === ''} onClick={() => void issue({ kind: 'visit-sheet', visit })}>
          Issue the visit sheet
        </button>
      </div>
      {visit !== '' && <VisitPhotos visit={visit} zone={zone} round="" />}
      <div class="form">
        <label class="field">
          <span>From ({zone})</span>
          <input type="date" value={from === '' ? day(nowMs - 90 * DAY_MS) : from} onInput={(event) => setFrom(event.currentTarget.value)} />
        </label>
        <label class="field">
          <span>Until, not included</span>
          <input type="date" value={to === '' ? day(nowMs + DAY_MS) : to} onInput={(event) => setTo(event.currentTarget.value)} />
        </label>
        <button type="button" disabled={busy} onClick={() => void issue({ kind: 'owner-report', site, from: midnight(from === '' ? day(nowMs - 90 * DAY_MS) : from), to: midnight(to === '' ? day(nowMs + DAY_MS) : to) })}>
          Issue the report for the owner
        </button>
      </div>
    </section>
  );
}

const LINE_WORDS: Readonly<Record<HistoryLine['kind'], string>> = { entry: 'logged', finding: 'finding', action: 'about a finding', record: 'record' };

function History(props: { readonly site: string; readonly generator: string; readonly name: string; readonly zone: string }) {
  const path = `/generators/${encodeURIComponent(props.site)}/${encodeURIComponent(props.generator)}/history`;
  const history = useResource<readonly HistoryLine[]>(path, () => getAll<HistoryLine>(path));
  return (
    <section aria-labelledby="history-title">
      <h2 id="history-title">
        History of {props.name}{' '}
        <a class="button beside" href={`/api/v1${path}.csv`} download>
          As CSV
        </a>
      </h2>
      {history.error !== undefined && <p class="problem">{history.error}</p>}
      {history.value === undefined && history.error === undefined && <p class="quiet">Loading the history…</p>}
      {history.value !== undefined && history.value.length === 0 && <p class="quiet">Nothing yet.</p>}
      {history.value !== undefined && history.value.length > 0 && (
        <table class="stacked history">
          <thead>
            <tr>
              <th scope="col">When ({props.zone})</th>
              <th scope="col">What</th>
              <th scope="col">Who</th>
            </tr>
          </thead>
          <tbody>
            {[...history.value].reverse().map((line) => (
              <tr key={`${line.kind} ${line.id} ${line.at} ${line.says}`}>
                <th scope="row">{timeWords(Date.parse(line.at), props.zone)}</th>
                <td>
                  {line.says}
                  <span class="under">{LINE_WORDS[line.kind]}</span>
                </td>
                <td>{line.by ?? 'Lull'}</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </section>
  );
}
