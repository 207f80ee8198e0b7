import type { Channel } from '../../shared/channels.ts';

/** Whether Lull can notice that a valve stands wrong, by its name and by what the generator sends; said so that nobody leans on it too much. */
export type ValveSight = { readonly sees: boolean; readonly says: string };

const only = (says: string): ValveSight => ({ sees: false, says });
const sees = (says: string): ValveSight => ({ sees: true, says });

/**
 * Names are free text, so this goes by words in them. Where a name says nothing, the answer is no: eyes are asked for rather
 * than spared. Common practice, no source.
 */
export function valveSight(name: string, channels: ReadonlySet<Channel>): ValveSight {
  const words = name.toLowerCase();
  const has = (...wanted: readonly string[]): boolean => [...channels].some((channel) => wanted.includes(channel.split('.')[0] ?? ''));
  const cycles = has('running', 'tank-pressure', 'run-time', 'starts', 'duty', 'producing');
  if (/water|accelerator|dry valve|preaction/.test(words)) return only('not for you to touch; Lull does not see it');
  if (/bypass/.test(words)) return has('system-pressure') && cycles ? sees('piping holds while nothing is drawn: within about a day') : only('no piping pressure sent');
  if (/sample|tank drain/.test(words)) return cycles ? sees('more is drawn: by the end of the second full cycle') : only('no run state sent');
  if (/tank/.test(words)) return cycles ? sees('the compressor stops early or the piping sags') : only('no run state sent');
  if (/supply|riser|regulator|piping/.test(words)) return has('system-pressure') ? sees('piping pressure sags while it is shut') : cycles ? sees('a rest that does not end; slow') : only('no piping pressure sent');
  if (/bleed|drain|blow/.test(words)) return cycles ? sees('less is delivered, or more is drawn: by the second full cycle') : only('no run state sent');
  if (/feed|inlet|outlet|isolat/.test(words)) return has('discharge-pressure', 'tank-pressure') ? sees('no pressure arrives: at the first run') : only('no pressure before the tank sent');
  return only('Lull cannot tell from this name');
}
