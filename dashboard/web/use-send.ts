import { useState } from 'preact/hooks';
import { rememberedName, rememberName } from './who.ts';

export type Said = { readonly problem: boolean; readonly words: string };
export type Send = {
  /** The typed name, as a form shows it. */
  readonly by: string;
  readonly setBy: (by: string) => void;
  readonly busy: boolean;
  readonly said: Said | undefined;
  readonly say: (said: Said | undefined) => void;
  /** Do something in this person's name; what it gives is said, an error too. True when it went well. */
  readonly send: (work: (by: string) => Promise<string>) => Promise<boolean>;
};

/** What every form does: want a name, send once, and say how it went. */
export function useSend(): Send {
  const [by, setBy] = useState(rememberedName);
  const [busy, setBusy] = useState(false);
  const [said, say] = useState<Said | undefined>(undefined);
  const send = async (work: (by: string) => Promise<string>): Promise<boolean> => {
    if (busy) return false;
    // Typed a moment ago in another form of this page.
    const name = by.trim() === '' ? rememberedName() : by.trim();
    setBy(name);
    if (name === '') {
      say({ problem: true, words: 'Please type your name.' });
      return false;
    }
    setBusy(true);
    try {
      const words = await work(name);
      rememberName(name);
      say({ problem: false, words });
      return true;
    } catch (error) {
      say({ problem: true, words: error instanceof Error ? error.message : String(error) });
      return false;
    } finally {
      setBusy(false);
    }
  };
  return { by, setBy, busy, said, say, send };
}
