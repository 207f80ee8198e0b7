import { clockWords } from '../../views/site-time.ts';
import type { Draft, Told } from './draft.ts';
import { visitNowMs } from './visit-clock.ts';

const WHO: Readonly<Record<Told['who'], string>> = { 'impairment-coordinator': "Owner's impairment coordinator", 'supervising-station': 'Supervising station' };

/** Both were told before anything was closed. */
export function bothTold(draft: Draft, what: Told['what']): boolean {
  return (Object.keys(WHO) as Told['who'][]).every((who) => draft.told.some((one) => one.who === who && one.what === what));
}

/** Who was spoken to, and when; the time is set by the tap. */
export function ToldPart(props: { readonly draft: Draft; readonly what: Told['what']; readonly change: (make: (draft: Draft) => Draft, soon?: boolean) => void }) {
  return (
    <>
      {(Object.keys(WHO) as Told['who'][]).map((who) => (
        <OneTold key={who} who={who} {...props} />
      ))}
    </>
  );
}

function OneTold(props: { readonly who: Told['who']; readonly draft: Draft; readonly what: Told['what']; readonly change: (make: (draft: Draft) => Draft, soon?: boolean) => void }) {
  const { who, what, draft } = props;
  const field = `${who} ${what}`;
  const name = draft.telling?.[field] ?? '';
  const setName = (typed: string): void => props.change((old) => ({ ...old, telling: { ...old.telling, [field]: typed } }));
  const told = draft.told.find((one) => one.who === who && one.what === what);
  const zone = Object.values(draft.cards)[0]?.detail.site.timeZone ?? 'UTC';
  const before = draft.told.find((one) => one.who === who && one.what === 'before');
  const tell = (): void => {
    const words = name.trim() === '' ? (before?.name ?? '') : name.trim();
    if (words === '') return;
    props.change((old) => ({ ...old, telling: { ...old.telling, [field]: '' }, told: [...old.told.filter((one) => one.who !== who || one.what !== what), { who, what, name: words, at: new Date(visitNowMs()).toISOString() }] }), true);
  };
  if (told !== undefined) {
    return (
      <p class="told">
        <strong>{WHO[who]}</strong>: {told.name}, {clockWords(Date.parse(told.at), zone)}{' '}
        <button type="button" onClick={() => props.change((old) => ({ ...old, told: old.told.filter((one) => one !== told) }), true)}>
          Take back
        </button>
      </p>
    );
  }
  return (
    <div class="told">
      <label class="typed">
        <span>
          {WHO[who]}: {what === 'before' ? 'whom did you speak to?' : `who confirmed?${before === undefined ? '' : ` (empty: ${before.name} again)`}`}
        </span>
        <input value={name} maxLength={80} autocomplete="off" onInput={(event) => setName(event.currentTarget.value)} />
      </label>
      <button type="button" disabled={name.trim() === '' && (what === 'before' || before === undefined)} onClick={tell}>
        {what === 'before' ? 'Told just now' : 'Confirmed just now'}
      </button>
    </div>
  );
}
