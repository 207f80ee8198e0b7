import type { NoticeRule, NoticeItem } from '../../shared/notice.ts';

/** A message ready to go; `id` is the same at each attempt, so that a receiver can tell a repeat. */
export type Outgoing = { readonly id: string; readonly subject: string; readonly text: string; readonly madeMs: number; readonly test: boolean; readonly items: readonly NoticeItem[] };

/** `forGood`: trying again would be of no use, such as an address that does not exist. */
export type SendResult = { readonly sent: true } | { readonly sent: false; readonly says: string; readonly forGood: boolean };

/** Takes one message to where the rule says. A value, never an exception: the world outside fails every day. */
export type Sender = (to: NoticeRule['to'], message: Outgoing) => Promise<SendResult>;
