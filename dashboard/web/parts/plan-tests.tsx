import { useState } from 'preact/hooks';
import type { Page } from '../../../shared/api.ts';
import type { PlannedTest } from '../../../shared/plan.ts';
import type { SiteRecord } from '../../../shared/registry.ts';
import { ENTRY_KIND_WORDS } from '../../views/domain-words.ts';
import { msOfWallTime, timeWords, wallTime } from '../../views/site-time.ts';
import { get, getAll, post } from '../api.ts';
import { useLive } from '../live.ts';
import { useResource } from '../use-resource.ts';

const KINDS = ['trip-test', 'low-pressure-test', 'hold-test', 'purge', 'impairment'] as const;
type Kind = (typeof KINDS)[number];
type Surroundings = { readonly by: string; readonly nowMs: number; readonly onSaved: () => void; readonly onProblem: (words: string) => void };

/** The sprinkler contractor's tests to come. Their generators are under test meanwhile; a visit may be made on the same day. */
export function PlanTests(props: Surroundings) {
  const tests = useResource<readonly PlannedTest[]>('tests', async () => (await get<Page<PlannedTest>>('/tests')).items);
  useLive('', { tick: tests.reload });
  const [entering, setEntering] = useState(false);
  const list = tests.value ?? [];
  const saved = (): void => {
    setEntering(false);
    tests.reload();
    props.onSaved();
  };
  const cancel = async (test: PlannedTest): Promise<void> => {
    if (props.by.trim() === '') return props.onProblem('Please type your name first: every change of the plan carries one.');
    try {
      await post('/tests', { id: test.id, site: test.site, kind: test.kind, startedAt: test.startedAt, finishedAt: test.finishedAt, cancelled: true, by: props.by.trim() });
      saved();
    } catch (error) {
      props.onProblem(error instanceof Error ? error.message : String(error));
    }
  };
  return (
    <section aria-labelledby="tests-title">
      <h2 id="tests-title">Tests of the sprinkler contractor</h2>
      <p class="quiet">While a test lasts the generators of the site are under test, and nothing that it causes is found.</p>
      {tests.error !== undefined && <p class="problem" role="alert">{tests.error}</p>}
      {tests.value === undefined && tests.error === undefined && <p class="quiet">Loading the tests…</p>}
      {list.length === 0 ? tests.value !== undefined && <p class="quiet">None is entered for the next 120 days.</p> : (
        <ul class="tests">
          {list.map((test) => (
            <li key={`${test.site} ${test.id}`}>
              <strong>
                {timeWords(Date.parse(test.startedAt), test.timeZone)} to {timeWords(Date.parse(test.finishedAt), test.timeZone).split(', ')[1]}
              </strong>
              , {test.siteName}: {ENTRY_KIND_WORDS[test.kind]}; {test.generators.length} {test.generators.length === 1 ? 'generator' : 'generators'}
              {test.note !== '' && `; ${test.note}`}
              {test.by !== '' && `; entered by ${test.by}`}{' '}
              {Date.parse(test.startedAt) > props.nowMs && test.id.startsWith('test-') && (
                <button type="button" class="no-print" aria-label={`Cancel the test at ${test.siteName}`} onClick={() => void cancel(test)}>
                  Cancel it
                </button>
              )}
            </li>
          ))}
        </ul>
      )}
      {entering ? <TestForm {...props} onSaved={saved} onDone={() => setEntering(false)} /> : (
        <p class="no-print">
          <button type="button" onClick={() => setEntering(true)}>
            Enter a test…
          </button>
        </p>
      )}
    </section>
  );
}

function TestForm(props: Surroundings & { readonly onDone: () => void }) {
  const sites = useResource<readonly SiteRecord[]>('sites', () => getAll<SiteRecord>('/sites'));
  const [siteId, setSiteId] = useState('');
  const [kind, setKind] = useState<Kind>('trip-test');
  const site = sites.value?.find((one) => one.id === siteId) ?? sites.value?.[0];
  const zone = site?.timeZone ?? 'UTC';
  const [start, setStart] = useState('');
  const [hours, setHours] = useState('3');
  const [note, setNote] = useState('');
  const shownStart = start === '' ? `${wallTime(props.nowMs + 86_400_000, zone).slice(0, 10)}T09:00` : start;
  const save = async (): Promise<void> => {
    const startMs = msOfWallTime(shownStart, zone);
    const number = Number(hours.replace(',', '.'));
    if (props.by.trim() === '') return props.onProblem('Please type your name first: every change of the plan carries one.');
    if (site === undefined || startMs === undefined || !(number > 0 && number <= 240)) return props.onProblem('Please choose a site, a beginning, and how many hours (up to 240).');
    try {
      await post('/tests', { site: site.id, kind, startedAt: new Date(startMs).toISOString(), finishedAt: new Date(startMs + number * 3_600_000).toISOString(), note: note.trim(), by: props.by.trim() });
      props.onSaved();
    } catch (error) {
      props.onProblem(error instanceof Error ? error.message : String(error));
    }
  };
  return (
    <form class="form" aria-label="A test" onSubmit={(event) => (event.preventDefault(), void save())}>
      <label class="field">
        <span>Site</span>
        <select value={site?.id ?? ''} onChange={(event) => setSiteId(event.currentTarget.value)}>
          {(sites.value ?? []).map((one) => (
            <option key={one.id} value={one.id}>
              {one.name ?? one.id}
            </option>
          ))}
        </select>
      </label>
      <label class="field">
        <span>What it is</span>
        <select value={kind} onChange={(event) => setKind(event.currentTarget.value as Kind)}>
          {KINDS.map((one) => (
            <option key={one} value={one}>
              {ENTRY_KIND_WORDS[one]}
            </option>
          ))}
        </select>
      </label>
      <label class="field field-time">
        <span>Begins ({zone})</span>
        <input type="datetime-local" value={shownStart} required onInput={(event) => setStart(event.currentTarget.value)} />
      </label>
      <label class="field">
        <span>Hours, refill included</span>
        <input inputMode="decimal" size={4} value={hours} onInput={(event) => setHours(event.currentTarget.value)} />
      </label>
      <label class="field field-text">
        <span>Note (may be left empty)</span>
        <input value={note} maxLength={400} onInput={(event) => setNote(event.currentTarget.value)} />
      </label>
      <div class="buttons">
        <button type="submit" class="primary">
          Enter it
        </button>
        <button type="button" onClick={props.onDone}>
          Leave it
        </button>
      </div>
    </form>
  );
}
