import { createHmac } from 'node:crypto';

const PREFIX = 'whsec_';

/**
 * The header `webhook-signature`: HMAC-SHA256 over `id.timestamp.body`, keyed with the bytes behind `whsec_`, in base64.
 *
 * @param timestampS whole seconds since 1970, as the header `webhook-timestamp` has it.
 * @throws {RangeError} if the secret doesn't begin with `whsec_`, or if the id holds a full stop, which would blur the parts.
 * @see Standard Webhooks 1.0.0, "Signature scheme"
 */
export function webhookSignature(secret: string, id: string, timestampS: number, body: string): string {
  if (!secret.startsWith(PREFIX)) throw new RangeError(`Cannot sign as the secret must begin with ${PREFIX}`);
  if (id.includes('.')) throw new RangeError(`Cannot sign as the id must hold no full stop: current value is ${JSON.stringify(id)}`);
  const key = Buffer.from(secret.slice(PREFIX.length), 'base64');
  return `v1,${createHmac('sha256', key).update(`${id}.${timestampS}.${body}`).digest('base64')}`;
}
