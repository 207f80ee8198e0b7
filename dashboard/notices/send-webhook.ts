import type { Clock } from '../../shared/time.ts';
import { isoFromMs } from '../../shared/time.ts';
import type { Outgoing, SendResult } from './sender.ts';
import { webhookSignature } from './webhook-signature.ts';

const TIMEOUT_MS = 15_000;
const GONE = 410;

export type WebhookParams = { readonly clock: Clock; readonly simulated: boolean; readonly generatorUrl: (site: string, generator: string) => string | null; readonly timeoutMs?: number };

/** The body, the same at each attempt. `type` and `timestamp` as the standard advises. */
function bodyOf(message: Outgoing, { simulated, generatorUrl }: WebhookParams): string {
  const [first] = message.items;
  const type = message.test ? 'notice.test' : message.items.length === 1 && first !== undefined ? `finding.${first.change}` : 'findings.changed';
  const items = message.items.map(({ atMs, ...item }) => ({ ...item, at: isoFromMs(atMs), url: generatorUrl(item.site, item.generator) }));
  return JSON.stringify({ type, timestamp: isoFromMs(message.madeMs), data: { simulated, subject: message.subject, text: message.text, items } });
}

/**
 * Post a message, signed. Any answer of 200 to 299 within 15 s counts as taken; 410 says that the address is given up for
 * good; a redirect is a failure, because it could lead the signed message elsewhere.
 *
 * @see Standard Webhooks 1.0.0
 */
export async function sendWebhook(to: { readonly url: string; readonly secret: string }, message: Outgoing, params: WebhookParams): Promise<SendResult> {
  const body = bodyOf(message, params);
  const timestampS = Math.floor(params.clock.nowMs() / 1000);
  try {
    const response = await fetch(to.url, {
      method: 'POST', body, redirect: 'manual', signal: AbortSignal.timeout(params.timeoutMs ?? TIMEOUT_MS),
      headers: { 'content-type': 'application/json', 'user-agent': 'lull', 'webhook-id': message.id, 'webhook-timestamp': String(timestampS), 'webhook-signature': webhookSignature(to.secret, message.id, timestampS, body) },
    });
    await response.body?.cancel();
    return response.ok ? { sent: true } : { sent: false, says: `the receiver answered with ${response.status}`, forGood: response.status === GONE };
  } catch (error) {
    return { sent: false, says: reasonOf(error), forGood: false };
  }
}

/** Undici says "fetch failed" and hides why in `cause`. */
function reasonOf(error: unknown): string {
  if (!(error instanceof Error)) return String(error);
  if (error.name === 'TimeoutError') return 'the receiver did not answer in time';
  const { cause } = error;
  return cause instanceof Error ? cause.message || (cause as NodeJS.ErrnoException).code || error.message : error.message;
}
