// Source: Standard Webhooks, signature scheme; the example that its reference libraries share (secret, id, time, body, signature), from memory.
import { createHmac } from 'node:crypto';
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { webhookSignature } from '../../dashboard/notices/webhook-signature.ts';

const SECRET = 'whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw';
const ID = 'msg_p5jXN8AQM9LWM0D4loKWxJek';

test('webhookSignature() gives the published signature', () => {
  expect(webhookSignature(SECRET, ID, 1_614_265_330, '{"test": 2432232314}')).toBe('v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=');
});

test('webhookSignature() is what a receiver computes from the headers and the raw body, for any of them', () => {
  fc.assert(fc.property(fc.uint8Array({ minLength: 24, maxLength: 64 }), fc.stringMatching(/^[a-z0-9-]{1,40}$/), fc.nat(), fc.string(), (bytes, id, timestampS, body) => {
    const secret = Buffer.from(bytes);
    const expected = createHmac('sha256', secret).update(`${id}.${timestampS}.${body}`, 'utf8').digest('base64');
    expect(webhookSignature(`whsec_${secret.toString('base64')}`, id, timestampS, body)).toBe(`v1,${expected}`);
  }));
});

test('webhookSignature() refuses a secret of another kind and an id that would blur the signed parts', () => {
  expect(() => webhookSignature('MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw', ID, 1, '')).toThrow(RangeError);
  expect(() => webhookSignature(SECRET, 'a.1', 1, '')).toThrow(RangeError);
});
