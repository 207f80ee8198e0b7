import { z } from 'zod';
import { CAUSE_FAMILIES, CAUSES, type Cause, type CauseFamily, type Finding, type FindingAction, type RankingRow } from './finding.ts';
import type { RegisteredGenerator } from './registry.ts';
import { isTimeZone } from './time.ts';

/** What can happen to a finding that a person may want to be told. */
export const NOTICE_CHANGES = ['opened', 'cause-changed', 'acknowledged', 'planned', 'verifying', 'closed', 'reopened', 'shelved', 'off-the-shelf'] as const;
export type NoticeChange = (typeof NOTICE_CHANGES)[number];

const FAMILIES = Object.keys(CAUSE_FAMILIES) as [CauseFamily, ...CauseFamily[]];
const CAUSE_NAMES = CAUSES as readonly [Cause, ...Cause[]];
const wallTime = z.string().regex(/^([01]\d|2[0-3]):[0-5]\d$/, 'must be a time of day such as 07:30');
const LOOPBACK = new Set(['localhost', '127.0.0.1', '[::1]']);

function isWebhookUrl(text: string): boolean {
  if (!URL.canParse(text)) return false;
  const url = new URL(text);
  return url.username === '' && url.password === '' && (url.protocol === 'https:' || (url.protocol === 'http:' && LOOPBACK.has(url.hostname)));
}

/** A secret of the Standard Webhooks: `whsec_` and 24 to 64 bytes in base64. */
function isWebhookSecret(text: string): boolean {
  const [, digits = '', padding = ''] = /^whsec_([A-Za-z0-9+/]+)(={0,2})$/.exec(text) ?? [];
  // Base64 writes 3 bytes as 4 characters.
  const bytes = padding === '' || (digits.length + padding.length) % 4 === 0 ? Math.floor((digits.length * 3) / 4) : 0;
  return bytes >= 24 && bytes <= 64;
}

const emailTo = z.strictObject({ kind: z.literal('email'), address: z.email('must be an e-mail address').max(254) });
const webhookTo = z.strictObject({
  kind: z.literal('webhook'),
  url: z.string().max(2000).refine(isWebhookUrl, { error: 'must be an https:// address without user and password (http:// only on this machine)' }),
  secret: z.string().refine(isWebhookSecret, { error: 'must be whsec_ followed by 24 to 64 bytes in base64' }),
});

/** Who is told of what, and when. An empty list of families, causes, areas or sites means all of them. */
export const noticeRuleSchema = z.strictObject({
  id: z.string().regex(/^[a-z0-9-]{1,64}$/, 'must be 1 to 64 of a-z, 0-9 and "-"'),
  name: z.string().trim().min(1).max(80),
  enabled: z.boolean().default(true),
  to: z.discriminatedUnion('kind', [emailTo, webhookTo]),
  /** Zone in which this person's digest and quiet hours are meant. */
  timeZone: z.string().refine(isTimeZone, { error: 'must be an IANA time zone such as Europe/Lisbon' }),
  families: z.array(z.enum(FAMILIES)).max(10).default([]),
  causes: z.array(z.enum(CAUSE_NAMES)).max(40).default([]),
  areas: z.array(z.string().max(120)).max(100).default([]),
  sites: z.array(z.string().max(64)).max(1000).default([]),
  changes: z.array(z.enum(NOTICE_CHANGES)).min(1, 'must name at least one change').default(['opened', 'reopened', 'off-the-shelf']),
  when: z.enum(['at-once', 'digest']).default('at-once'),
  digestAt: wallTime.default('07:00'),
  quietHours: z.strictObject({ from: wallTime, to: wallTime }).nullable().default(null),
  /** Causes that are told at once, past the digest and through quiet hours. */
  atOnceCauses: z.array(z.enum(CAUSE_NAMES)).max(40).default([]),
});
export type NoticeRule = z.infer<typeof noticeRuleSchema>;

/** `waiting` until `notBeforeMs`; `bundled` went out inside another notice; `dropped`: its rule is gone or switched off. */
export const NOTICE_STATES = ['waiting', 'sent', 'bundled', 'given-up', 'dropped'] as const;
export type NoticeState = (typeof NOTICE_STATES)[number];

/** What changed: one line of a notice. */
export type NoticeItem = {
  readonly finding: string;
  readonly site: string;
  readonly generator: string;
  readonly change: NoticeChange;
  readonly cause: Cause;
  readonly atMs: number;
};

/** A message on its way: written before it is sent, so that a restart loses none. */
export type Notice = {
  readonly id: string;
  readonly rule: string;
  readonly ruleName: string;
  readonly kind: 'finding' | 'bundle' | 'test';
  /** Where to, as people read it: an address, or a URL. No secret. */
  readonly to: string;
  readonly subject: string;
  readonly text: string;
  readonly items: readonly NoticeItem[];
  /** True when it may go out together with others of its rule that are due then. */
  readonly mayBundle: boolean;
  readonly madeMs: number;
  readonly notBeforeMs: number;
  readonly attempts: number;
  readonly state: NoticeState;
  readonly lastError: string | null;
  readonly sentMs: number | null;
};

/** What of a finding was last looked at for notices, as text: only a difference makes a notice. */
export type NoticeSeen = { readonly finding: string; readonly seen: string };

/** What a notice tells about one finding; whoever finds the words gets this. */
export type NoticeStory = {
  readonly ruleName: string;
  readonly change: NoticeChange;
  readonly finding: Finding;
  /** The main cause before it changed; `null` unless `change` is `cause-changed`. */
  readonly causeBefore: Cause | null;
  readonly registered: RegisteredGenerator;
  readonly row: RankingRow | null;
  /** The person's action behind the change, if there was one. */
  readonly action: FindingAction | null;
  readonly nowMs: number;
};

export type NoticeMessage = { readonly subject: string; readonly text: string };

/** Finds the words; handed to whoever sends, so that sending knows no sentence. */
export type NoticeWords = {
  one(story: NoticeStory): NoticeMessage;
  /** Several that are due at once, in one message. */
  bundle(notices: readonly Notice[]): NoticeMessage;
  test(ruleName: string): NoticeMessage;
};

/** A rule as pages get it: the secret of a webhook is taken in and never given out. */
export type NoticeRuleShown = Omit<NoticeRule, 'to'> & { readonly to: { readonly kind: 'email'; readonly address: string } | { readonly kind: 'webhook'; readonly url: string } };
/** POST /api/v1/notice-rules. Without an id a new one is made; a webhook without a secret keeps the one it has. */
export type NoticeRuleBody = { readonly by: string; readonly rule: Omit<NoticeRuleShown, 'id' | 'to'> & { readonly id?: string; readonly to: { readonly kind: 'email'; readonly address: string } | { readonly kind: 'webhook'; readonly url: string; readonly secret?: string } } };
/** GET /api/v1/notice-sending: what the machine has to send with. */
export type NoticeSending = { readonly mailFrom: string | null; readonly publicUrl: string | null };
/** A notice as GET /api/v1/notices gives it, times as text. */
export type NoticeShown = Omit<Notice, 'items' | 'madeMs' | 'notBeforeMs' | 'sentMs' | 'mayBundle'> & { readonly items: readonly (Omit<NoticeItem, 'atMs'> & { readonly at: string })[]; readonly madeAt: string; readonly notBeforeAt: string; readonly sentAt: string | null };
