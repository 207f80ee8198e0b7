/** Why something that arrived was not taken as a reading. */
export const QUARANTINE_REASONS = ['malformed', 'too-large', 'unknown-topic', 'unknown-channel', 'unknown-unit', 'unit-unclear', 'out-of-range', 'clock-ahead', 'too-old', 'conflicting-value', 'store-refused'] as const;
export type QuarantineReason = (typeof QUARANTINE_REASONS)[number];

/** Kept for 90 days and at most 1 GB; nothing that arrived is thrown away unseen. */
export type QuarantineItem = {
  /** Given by the store; 0 before it is kept. */
  readonly id: number;
  readonly receivedMs: number;
  readonly topic: string;
  /** What arrived, as text where it is UTF-8, else base64 with the prefix `base64:`; at most 256 KiB of it. */
  readonly payload: string;
  readonly reason: QuarantineReason;
  /** What is wrong and what to do, for a person. */
  readonly says: string;
  /** `site/generator` where the topic tells it, and the channel where the pack tells it. */
  readonly generator: string | null;
  readonly channel: string | null;
  readonly releasedMs: number | null;
};
export const QUARANTINE_KEEP_DAYS = 90;
export const QUARANTINE_MAX_BYTES = 1_000_000_000;
