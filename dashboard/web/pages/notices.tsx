import { useEffect, useRef, useState } from 'preact/hooks';
import type { CauseFamily } from '../../../shared/finding.ts';
import type { NoticeRuleShown, NoticeSending, NoticeShown } from '../../../shared/notice.ts';
import type { RegistryAnswer } from '../../../shared/settings-api.ts';
import { CAUSE_WORDS } from '../../views/domain-words.ts';
import { FAMILY_WORDS, NOTICE_CHANGE_WORDS } from '../../views/notice-words.ts';
import { ageWords, timeWords } from '../../views/site-time.ts';
import { get, getAll, post, query } from '../api.ts';
import { useLive, useNowMs } from '../live.ts';
import { NameField, SaidLine } from '../parts/form-fields.tsx';
import { NoticeRuleForm } from '../parts/notice-rule-form.tsx';
import { useResource } from '../use-resource.ts';
import { type Send, useSend } from '../use-send.ts';
import type { Page } from '../../../shared/api.ts';

const SHOWN = 50;

/** Who is told what and when; what went, what waits, and what could not be sent. */
export function NoticesPage() {
  const nowMs = useNowMs(5000);
  const rules = useResource<readonly NoticeRuleShown[]>('notice-rules', () => getAll<NoticeRuleShown>('/notice-rules'));
  const sending = useResource<NoticeSending>('notice-sending', () => get<NoticeSending>('/notice-sending'));
  const log = useResource<Page<NoticeShown>>('notices', () => get<Page<NoticeShown>>(`/notices${query({ limit: SHOWN })}`));
  const registry = useResource<RegistryAnswer>('registry', () => get<RegistryAnswer>('/registry'));
  const [edited, setEdited] = useState<NoticeRuleShown | 'new' | undefined>(undefined);
  const act = useSend();
  const title = useRef<HTMLHeadingElement>(null);
  useLive('', { tick: log.reload });
  useEffect(() => {
    document.title = 'Notices · Lull';
  }, []);
  const sites = (registry.value?.sites ?? []).map(({ site }) => [site.id, site.name ?? site.id] as const);
  const areas = [...new Set((registry.value?.sites ?? []).flatMap(({ site }) => site.area ?? []))].sort((a, b) => a.localeCompare(b));
  const done = (words: string | undefined): void => {
    setEdited(undefined);
    act.say(words === undefined ? undefined : { problem: false, words });
    rules.reload();
    title.current?.focus();
  };
  const mailRules = (rules.value ?? []).filter((rule) => rule.enabled && rule.to.kind === 'email');
  return (
    <>
      <h1>Notices</h1>
      <p class="lead">A message to a person or a program when a finding opens, changes or closes. Each change is told once. While a visit is under way or a generator is under test, notices about it are held.</p>
      {sending.value?.mailFrom === null && mailRules.length > 0 && (
        <p class="problem" role="status">
          There is no mail server, so e-mail waits. Set <code>LULL_SMTP_URL</code> and start Lull again.
        </p>
      )}
      <section aria-labelledby="rules-title">
        <h2 id="rules-title" ref={title} tabIndex={-1}>
          Who is told
        </h2>
        <SaidLine said={act.said} />
        {rules.error !== undefined && (
          <p class="problem" role="alert">
            {rules.error} <button type="button" onClick={rules.reload}>Try again</button>
          </p>
        )}
        {rules.value === undefined && rules.error === undefined && <p class="quiet">Loading…</p>}
        {rules.value?.length === 0 && <p>Nobody is told of anything yet.</p>}
        {(rules.value?.length ?? 0) > 0 && (
          <div class="in-line">
            <NameField by={act.by} setBy={act.setBy} />
          </div>
        )}
        <ul class="cards">
          {(rules.value ?? []).map((rule) => (
            <li key={rule.id}>
              {edited !== undefined && edited !== 'new' && edited.id === rule.id ? (
                <NoticeRuleForm rule={rule} areas={areas} sites={sites} onDone={done} />
              ) : (
                <Rule rule={rule} sites={sites} act={act} onEdit={() => setEdited(rule)} onChanged={() => (rules.reload(), log.reload())} />
              )}
            </li>
          ))}
        </ul>
        {edited === 'new' ? (
          <NoticeRuleForm rule={undefined} areas={areas} sites={sites} onDone={done} />
        ) : (
          <button type="button" onClick={() => setEdited('new')}>
            Add a rule…
          </button>
        )}
        <p class="quiet">
          {sending.value === undefined ? '' : sending.value.mailFrom === null ? 'No mail server is set up (LULL_SMTP_URL). ' : `Mail comes from ${sending.value.mailFrom}. `}
          {sending.value === undefined ? '' : sending.value.publicUrl === null ? 'Messages hold no links, because the address of these pages is not set (LULL_PUBLIC_URL).' : `Links begin with ${sending.value.publicUrl}.`}
        </p>
      </section>
      <Log log={log.value?.items} error={log.error} nowMs={nowMs} act={act} onChanged={log.reload} more={log.value?.next !== null && log.value !== undefined} />
    </>
  );
}

function listed(words: readonly string[], otherwise: string): string {
  return words.length === 0 ? otherwise : words.length <= 4 ? words.join(', ') : `${words.slice(0, 3).join(', ')} and ${words.length - 3} more`;
}

/** What a rule tells of, as a sentence. */
function ruleSentence(rule: NoticeRuleShown, sites: readonly (readonly [id: string, name: string])[]): string {
  const what = listed(rule.changes.map((change) => NOTICE_CHANGE_WORDS[change]), '');
  const causes = listed([...rule.families.map((family: CauseFamily) => FAMILY_WORDS[family].toLowerCase()), ...rule.causes.map((cause) => CAUSE_WORDS[cause].toLowerCase())], 'any cause');
  const where = listed([...rule.areas, ...rule.sites.map((id) => sites.find(([known]) => known === id)?.[1] ?? id)], 'all sites');
  const when = rule.when === 'at-once' ? 'at once' : `once a day at ${rule.digestAt}`;
  const quiet = rule.quietHours === null ? '' : `, quiet from ${rule.quietHours.from} until ${rule.quietHours.to}`;
  const urgent = rule.atOnceCauses.length > 0 && (rule.when === 'digest' || rule.quietHours !== null) ? `; at any hour: ${listed(rule.atOnceCauses.map((cause) => CAUSE_WORDS[cause].toLowerCase()), '')}` : '';
  return `Findings: ${what}. Causes: ${causes}. Where: ${where}. Sent ${when}${quiet} (${rule.timeZone})${urgent}.`;
}

function Rule(props: { readonly rule: NoticeRuleShown; readonly sites: readonly (readonly [string, string])[]; readonly act: Send; readonly onEdit: () => void; readonly onChanged: () => void }) {
  const { rule, act } = props;
  const [removing, setRemoving] = useState(false);
  const test = (): Promise<boolean> =>
    act.send(async (by) => {
      const notice = await post<NoticeShown>(`/notice-rules/${rule.id}/test`, { by });
      props.onChanged();
      if (notice.state !== 'sent') throw new Error(`The test of "${rule.name}" could not be sent: ${notice.lastError ?? 'no reason given'}`);
      return `The test of "${rule.name}" was taken by ${notice.to}. Look whether it arrived.`;
    });
  const remove = (): Promise<boolean> =>
    act.send(async (by) => {
      await post(`/notice-rules/${rule.id}/remove`, { by });
      props.onChanged();
      return `The rule "${rule.name}" is removed.`;
    });
  return (
    <>
      <h3>
        {rule.name}
        {!rule.enabled && <span class="quiet"> – not in use</span>}
      </h3>
      <p>
        {rule.to.kind === 'email' ? rule.to.address : <>webhook to <code>{rule.to.url}</code></>}
      </p>
      <p class="quiet">{ruleSentence(rule, props.sites)}</p>
      <div class="buttons">
        <button type="button" disabled={act.busy} onClick={() => void test()}>
          Send a test<span class="unseen"> to {rule.name}</span>
        </button>
        <button type="button" onClick={props.onEdit}>
          Change…<span class="unseen"> {rule.name}</span>
        </button>
        {removing ? (
          <>
            <button type="button" disabled={act.busy} onClick={() => void remove()}>
              Remove it for good<span class="unseen">: {rule.name}</span>
            </button>
            <button type="button" onClick={() => setRemoving(false)}>
              Keep it<span class="unseen">: {rule.name}</span>
            </button>
          </>
        ) : (
          <button type="button" onClick={() => setRemoving(true)}>
            Remove…<span class="unseen"> {rule.name}</span>
          </button>
        )}
      </div>
    </>
  );
}

function stateWords(notice: NoticeShown, nowMs: number): string {
  switch (notice.state) {
    case 'sent':
      return notice.attempts > 1 ? `sent at attempt ${notice.attempts}` : 'sent';
    case 'bundled':
      return 'went together with others';
    case 'dropped':
      return 'not sent: its rule was removed or switched off';
    case 'given-up':
      return `could not be sent: ${notice.lastError ?? 'no reason given'}`;
    default: {
      const due = Date.parse(notice.notBeforeAt);
      const when = due <= nowMs ? 'goes now' : `goes ${timeWords(due, 'UTC')} UTC`;
      return notice.lastError === null ? `waits, ${when}` : `${notice.lastError}; tried ${notice.attempts} ${notice.attempts === 1 ? 'time' : 'times'}, ${when}`;
    }
  }
}

function Log(props: { readonly log: readonly NoticeShown[] | undefined; readonly error: string | undefined; readonly nowMs: number; readonly act: Send; readonly onChanged: () => void; readonly more: boolean }) {
  const { log, act, nowMs } = props;
  const again = (notice: NoticeShown): Promise<boolean> =>
    act.send(async (by) => {
      await post(`/notices/${notice.id}/retry`, { by });
      props.onChanged();
      return 'It goes again within some seconds.';
    });
  return (
    <section aria-labelledby="log-title">
      <h2 id="log-title">What was sent, newest first</h2>
      {props.error !== undefined && (
        <p class="problem" role="alert">
          {props.error}
        </p>
      )}
      {log === undefined && props.error === undefined && <p class="quiet">Loading…</p>}
      {log?.length === 0 && <p class="quiet">Nothing yet.</p>}
      <ul class="cards notice-log">
        {(log ?? []).map((notice) => (
          <li key={notice.id}>
            <details>
              <summary>{notice.subject}</summary>
              <pre>{notice.text}</pre>
            </details>
            <p class={notice.state === 'given-up' ? 'silent' : 'quiet'}>
              {notice.ruleName}, {notice.to}: {stateWords(notice, nowMs)}; made {ageWords(Date.parse(notice.madeAt), nowMs)}
            </p>
            {notice.state === 'given-up' && notice.kind !== 'test' && (
              <button type="button" disabled={act.busy} onClick={() => void again(notice)}>
                Send it again<span class="unseen">: {notice.subject}</span>
              </button>
            )}
          </li>
        ))}
      </ul>
      {props.more && <p class="quiet">Older ones: GET /api/v1/notices.</p>}
    </section>
  );
}
