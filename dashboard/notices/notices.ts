import type { GeneratorKey } from '../../shared/ids.ts';
import type { Log } from '../../shared/log.ts';
import type { NoticeRule, NoticeWords } from '../../shared/notice.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import type { Clock } from '../../shared/time.ts';
import { openOutbox, type Outbox } from './outbox.ts';
import { openMail } from './send-mail.ts';
import { sendWebhook } from './send-webhook.ts';
import type { Sender } from './sender.ts';
import { watchFindings } from './watch-findings.ts';

export type NoticesParams = {
  readonly records: RecordStore;
  readonly clock: Clock;
  readonly random: () => number;
  readonly log: Log;
  readonly generator: (key: GeneratorKey) => RegisteredGenerator;
  readonly words: NoticeWords;
  readonly simulated: boolean;
  /** Without a mail server, mail waits and says why. */
  readonly smtp?: { readonly url: string; readonly from: string };
  readonly generatorUrl: (site: string, generator: string) => string | null;
};

export type Notices = Pick<Outbox, 'test' | 'retry'> & {
  /** The address that mail comes from; `null` without a mail server. */
  readonly mailFrom: string | null;
  /** See what changed and send what is due. Failures of the store are logged and tried again at the next call. */
  run(): Promise<void>;
  close(): void;
};

/** Who is told what, when: from what analysis and people did to messages on their way. The caller decides how often to `run`. */
export function openNotices(params: NoticesParams): Notices {
  const mail = params.smtp === undefined ? undefined : openMail(params.smtp);
  const send: Sender = async (to, message) => {
    if (to.kind === 'webhook') return sendWebhook(to, message, params);
    return mail === undefined ? { sent: false, says: 'no mail server is configured (LULL_SMTP_URL)', forGood: false } : mail.send(to.address, message);
  };
  const watch = watchFindings(params);
  const outbox = openOutbox({ ...params, send });
  let saidFailure = '';
  return {
    mailFrom: mail?.from ?? null,
    test: (rule: NoticeRule) => outbox.test(rule),
    retry: (id) => outbox.retry(id),
    async run() {
      try {
        await watch.look();
        await outbox.deliver();
        saidFailure = '';
      } catch (error) {
        const says = error instanceof Error ? error.message : String(error);
        if (says !== saidFailure) params.log.error('notices could not be looked at or sent; it is tried again', { error: says });
        saidFailure = says;
      }
    },
    close: () => mail?.close(),
  };
}
