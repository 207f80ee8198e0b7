import type { Config } from '../../shared/config.ts';
import type { Log } from '../../shared/log.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { type Notices, openNotices } from '../notices/notices.ts';
import { noticeWords } from '../views/notice-words.ts';
import type { ScaledClock } from './clock.ts';
import type { CurrentRegistry } from './registry-source.ts';

/** How often it is looked whether something changed or is due, wall ms. */
const LOOK_EVERY_MS = 2000;

export type NoticePump = Notices & { readonly publicUrl: string | null; stop(): Promise<void> };

type Params = { readonly records: RecordStore; readonly config: Config; readonly clock: ScaledClock; readonly log: Log; readonly registry: CurrentRegistry; readonly simulated: boolean };

/** Notices with what this process has: its clock, its dice, its mail server, the address that people reach it by. */
export function startNoticePump({ records, config, clock, log, registry, simulated }: Params): NoticePump {
  const publicUrl = config.publicUrl?.replace(/\/+$/, '') ?? null;
  const generatorUrl = (site: string, generator: string): string | null => (publicUrl === null ? null : `${publicUrl}/generators/${site}/${generator}`);
  const notices = openNotices({
    records, clock, log, simulated, generatorUrl, random: Math.random, generator: (key) => registry.generator(key), words: noticeWords({ simulated, generatorUrl }),
    ...(config.smtpUrl === undefined ? {} : { smtp: { url: config.smtpUrl, from: config.smtpFrom ?? senderOf(config.smtpUrl) } }),
  });
  let running: Promise<void> | undefined;
  const timer = setInterval(() => {
    running ??= notices.run().finally(() => {
      running = undefined;
    });
  }, LOOK_EVERY_MS);
  return {
    ...notices,
    publicUrl,
    async stop() {
      clearInterval(timer);
      await running;
      notices.close();
    },
  };
}

/** The user at the mail server, if it is an address; else one that says which machine it was. */
function senderOf(smtpUrl: string): string {
  const url = new URL(smtpUrl);
  const user = decodeURIComponent(url.username);
  return user.includes('@') ? user : `lull@${url.hostname}`;
}
