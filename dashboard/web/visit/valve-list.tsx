import { useState } from 'preact/hooks';
import type { Channel } from '../../../shared/channels.ts';
import { valveSight } from '../../views/valve-sight.ts';
import { type Draft, EMPTY_WORK, type Position, valvesOf, type WorkDraft } from './draft.ts';

/** Every valve by name, one by one: how it stood, how it stands now, how it should, and whether Lull could see it. */
export function ValveList(props: { readonly draft: Draft; readonly generator: string; readonly side: 'found' | 'left'; readonly change: (make: (work: WorkDraft) => WorkDraft, soon?: boolean) => void }) {
  const { draft, generator, side } = props;
  const work = draft.work[generator] ?? EMPTY_WORK;
  const valves = valvesOf(draft, generator);
  const channels = new Set<Channel>((draft.cards[generator]?.detail.latest ?? []).map((one) => one.channel));
  const set = (name: string, position: Position): void => props.change((old) => ({ ...old, valves: { ...old.valves, [name]: { ...(old.valves[name] ?? { found: null, left: null }), [side]: position } } }), side === 'left');
  return (
    <div class="valves">
      {valves.length === 0 && <p class="quiet">No valves are in the registry for this generator. Add those that you see.</p>}
      <ol>
        {valves.map(({ name, normal }) => {
          const at = work.valves[name];
          const sight = valveSight(name, channels);
          const value = at?.[side] ?? null;
          const odd = value !== null && value !== normal;
          return (
            <li key={name}>
              <fieldset class={odd ? 'valve valve-odd' : 'valve'}>
                <legend>
                  <strong>{name}</strong>, normally {normal}
                </legend>
                {side === 'left' && <span class="under">{at?.found === null || at?.found === undefined ? 'not looked at as found' : `found ${at.found}`}; Lull {sight.sees ? `can see it: ${sight.says}` : `can't see it: ${sight.says}`}</span>}
                <div class="buttons">
                  {(['open', 'shut'] as const).map((position) => (
                    <button key={position} type="button" aria-pressed={value === position} onClick={() => set(name, position)}>
                      {side === 'found' ? 'Found' : 'Left'} {position}
                    </button>
                  ))}
                </div>
                {odd && <p class="problem">Not as normal. {side === 'left' ? 'Put it back, or write in the note why not and who knows.' : 'Note it before you change it.'}</p>}
              </fieldset>
            </li>
          );
        })}
      </ol>
      <AddValve add={(name, normal) => props.change((old) => ({ ...old, moreValves: [...old.moreValves.filter((one) => one.name !== name), { name, normal }] }))} />
    </div>
  );
}

function AddValve(props: { readonly add: (name: string, normal: Position) => void }) {
  const [name, setName] = useState('');
  const add = (normal: Position): void => {
    if (name.trim() === '') return;
    props.add(name.trim(), normal);
    setName('');
  };
  return (
    <details class="more">
      <summary>Add a valve that is not listed</summary>
      <label class="typed">
        <span>Its name, as on its tag</span>
        <input value={name} maxLength={120} onInput={(event) => setName(event.currentTarget.value)} />
      </label>
      <div class="buttons">
        <button type="button" onClick={() => add('open')}>
          Add, normally open
        </button>
        <button type="button" onClick={() => add('shut')}>
          Add, normally shut
        </button>
      </div>
    </details>
  );
}
