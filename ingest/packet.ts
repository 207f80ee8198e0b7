/** What came in on a topic, stamped with its receipt. */
export type Packet = {
  readonly topic: string;
  readonly payload: Uint8Array;
  /** MQTT's flag: this may be a second sending of the same packet. */
  readonly dup: boolean;
  readonly receivedMs: number;
};

/** Largest payload that is read, and most that is kept of one in quarantine, bytes. */
export const MAX_PAYLOAD_BYTES = 256 * 1024;

const strict = new TextDecoder('utf-8', { fatal: true });

/** The payload as text; `undefined` when it is no UTF-8. */
export function payloadText(payload: Uint8Array): string | undefined {
  try {
    return strict.decode(payload);
  } catch {
    return undefined;
  }
}

/** The payload as quarantine keeps it: text, or base64 with a prefix where it is no UTF-8; cut at 256 KiB. */
export function quarantineText(payload: Uint8Array): string {
  const bytes = Buffer.from(payload.buffer, payload.byteOffset, Math.min(payload.byteLength, MAX_PAYLOAD_BYTES));
  const text = payloadText(bytes);
  // Base64 makes 4 characters of 3 bytes; the limit is on what is kept.
  return text ?? `base64:${bytes.subarray(0, Math.floor((MAX_PAYLOAD_BYTES * 3) / 4) - 8).toString('base64')}`;
}

/** What `quarantineText` kept, as bytes again. */
export function payloadOfQuarantine(kept: string): Uint8Array {
  return kept.startsWith('base64:') ? Buffer.from(kept.slice('base64:'.length), 'base64') : Buffer.from(kept, 'utf8');
}
