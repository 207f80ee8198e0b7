import { createHash } from 'node:crypto';
import { z } from 'zod';
import { CAUSES, type Cause } from '../../shared/finding.ts';
import { NOTICE_CHANGES, NOTICE_STATES, type Notice, type NoticeRule, type NoticeRuleShown, type NoticeSending, type NoticeShown, noticeRuleSchema } from '../../shared/notice.ts';
import { isoFromMs } from '../../shared/time.ts';
import { readRules, removeRule, saveRule } from '../notices/rules.ts';
import { pageSchema } from './answer-schemas.ts';
import { HttpProblem } from './problem.ts';
import { byText, listQuery, pageOf, placeOf } from './query-schemas.ts';
import { parsed, type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

const JSON_TYPE = 'application/json';
/** More rules than people who can be told are a mistake. Our choice. */
const MOST_RULES = 500;

const emailTo = z.strictObject({ kind: z.literal('email'), address: z.string().max(254) });
const ruleFields = noticeRuleSchema.shape;
const ruleShownSchema = z.strictObject({ ...ruleFields, to: z.discriminatedUnion('kind', [emailTo, z.strictObject({ kind: z.literal('webhook'), url: z.string() })]) });
const ruleGivenSchema = z.strictObject({ ...ruleFields, id: ruleFields.id.optional(), to: z.discriminatedUnion('kind', [emailTo, z.strictObject({ kind: z.literal('webhook'), url: z.string().max(2000), secret: z.string().max(200).optional().describe('whsec_…; left out: the one that is kept') })]) });
const noticeShownSchema = z.strictObject({
  id: z.string(), rule: z.string(), ruleName: z.string(), kind: z.enum(['finding', 'bundle', 'test']), to: z.string(), subject: z.string(), text: z.string(),
  items: z.array(z.strictObject({ finding: z.string(), site: z.string(), generator: z.string(), change: z.enum(NOTICE_CHANGES), cause: z.enum(CAUSES as readonly [Cause, ...Cause[]]), at: z.string() })),
  madeAt: z.string(), notBeforeAt: z.string(), attempts: z.number().int(), state: z.enum(NOTICE_STATES), lastError: z.string().nullable(), sentAt: z.string().nullable(),
});
const ruleParams = z.strictObject({ id: z.string().min(1).max(64) });

/** Rules of notices, what was sent, and what was not. */
export function noticeRoutes(params: ServerParams): Route[] {
  return [listOfRules(params), saveOneRule(params), removeOneRule(params), testOneRule(params), listOfNotices(params), retryNotice(params), sending(params)];
}

function shownRule(rule: NoticeRule): NoticeRuleShown {
  return { ...rule, to: rule.to.kind === 'email' ? rule.to : { kind: 'webhook', url: rule.to.url } };
}

function shownNotice({ items, madeMs, notBeforeMs, sentMs, mayBundle: _mayBundle, ...notice }: Notice): NoticeShown {
  return { ...notice, items: items.map(({ atMs, ...item }) => ({ ...item, at: isoFromMs(atMs) })), madeAt: isoFromMs(madeMs), notBeforeAt: isoFromMs(notBeforeMs), sentAt: sentMs === null ? null : isoFromMs(sentMs) };
}

/** @throws {HttpProblem} 404 for a rule that is not there. */
async function knownRule({ records }: ServerParams, id: string): Promise<NoticeRule> {
  const rule = (await readRules(records)).find((one) => one.id === id);
  if (rule === undefined) throw new HttpProblem(404, `No rule has the id ${JSON.stringify(id)}. GET /api/v1/notice-rules lists them.`);
  return rule;
}

function listOfRules({ records }: ServerParams): Route {
  return route({
    method: 'get', path: '/notice-rules', tag: 'notices', summary: 'Who is told what, when; without secrets', query: listQuery,
    answer: { status: 200, contentType: JSON_TYPE, schema: pageSchema(ruleShownSchema), says: 'a page of rules' },
    handle: async ({ query }) => ({ json: pageOf((await readRules(records)).map(shownRule).sort((a, b) => a.name.localeCompare(b.name, 'en')), query) }),
  });
}

function saveOneRule(params: ServerParams): Route {
  const { records, clock } = params;
  return route({
    method: 'post', path: '/notice-rules', tag: 'notices', summary: 'Make a rule, or write one anew by its id', body: z.strictObject({ by: byText, rule: ruleGivenSchema }), problems: [409],
    answer: { status: 200, contentType: JSON_TYPE, schema: ruleShownSchema, says: 'the rule as it was kept' },
    handle: async ({ body: { by, rule: given } }) => {
      const nowMs = clock.nowMs();
      const rules = await readRules(records);
      const known = rules.find((one) => one.id === given.id);
      if (known === undefined && rules.length >= MOST_RULES) throw new HttpProblem(409, `There are ${MOST_RULES} rules already. Remove one first.`);
      const to = given.to.kind === 'webhook' && given.to.secret === undefined && known?.to.kind === 'webhook' && known.to.url === given.to.url ? { ...given.to, secret: known.to.secret } : given.to;
      if (to.kind === 'webhook' && to.secret === undefined) throw new HttpProblem(400, 'Wrong in the body: rule.to.secret: a webhook with a new address needs a secret, whsec_ followed by 24 to 64 bytes in base64.');
      const rule = parsed(noticeRuleSchema, { ...given, to, id: given.id ?? idOf(given, nowMs) }, 'body');
      await saveRule(records, rule);
      await records.audit({ atMs: nowMs, by, did: known === undefined ? 'made a rule of notices' : 'changed a rule of notices', about: `${rule.name} (${rule.id})` });
      return { json: shownRule(rule) };
    },
  });
}

/** No dice: it comes from the content and the time. */
function idOf(rule: unknown, nowMs: number): string {
  return `rule-${createHash('sha256').update(`${nowMs} ${JSON.stringify(rule)}`).digest('hex').slice(0, 12)}`;
}

const byBody = z.strictObject({ by: byText });

function removeOneRule(params: ServerParams): Route {
  return route({
    method: 'post', path: '/notice-rules/{id}/remove', tag: 'notices', summary: 'Take a rule away; what it sent stays listed, what waits is dropped', params: ruleParams, body: byBody, problems: [404],
    answer: { status: 200, contentType: JSON_TYPE, schema: ruleShownSchema, says: 'the rule as it was' },
    handle: async ({ params: { id }, body: { by } }) => {
      const rule = await knownRule(params, id);
      await removeRule(params.records, id);
      await params.records.audit({ atMs: params.clock.nowMs(), by, did: 'removed a rule of notices', about: `${rule.name} (${id})` });
      return { json: shownRule(rule) };
    },
  });
}

function testOneRule(params: ServerParams): Route {
  return route({
    method: 'post', path: '/notice-rules/{id}/test', tag: 'notices', summary: 'Send a test now, once; the answer says how it went', params: ruleParams, body: byBody, problems: [404],
    answer: { status: 200, contentType: JSON_TYPE, schema: noticeShownSchema, says: 'the test, `sent` or `given-up` with the reason' },
    handle: async ({ params: { id }, body: { by } }) => {
      const rule = await knownRule(params, id);
      const notice = await params.notices.test(rule);
      await params.records.audit({ atMs: params.clock.nowMs(), by, did: `sent a test: ${notice.state === 'sent' ? 'sent' : `failed, ${notice.lastError ?? ''}`}`, about: `${rule.name} (${id})` });
      return { json: shownNotice(notice) };
    },
  });
}

function listOfNotices({ records }: ServerParams): Route {
  return route({
    method: 'get', path: '/notices', tag: 'notices', summary: 'Notices, newest first: waiting, sent, bundled into another, given up', query: listQuery,
    answer: { status: 200, contentType: JSON_TYPE, schema: pageSchema(noticeShownSchema), says: 'a page of notices' },
    handle: async ({ query }) => {
      const wanted = placeOf(query.after) + query.limit + 1;
      return { json: pageOf((await records.notices({ limit: wanted })).map(shownNotice), query) };
    },
  });
}

function retryNotice(params: ServerParams): Route {
  return route({
    method: 'post', path: '/notices/{id}/retry', tag: 'notices', summary: 'Try again to send what was given up', params: z.strictObject({ id: z.string().min(1).max(128) }), body: byBody, problems: [404, 409],
    answer: { status: 200, contentType: JSON_TYPE, schema: noticeShownSchema, says: 'the notice, waiting again' },
    handle: async ({ params: { id }, body: { by } }) => {
      const [known] = await params.records.notices({ id });
      if (known === undefined) throw new HttpProblem(404, `No notice has the id ${JSON.stringify(id)}. GET /api/v1/notices lists them.`);
      const notice = await params.notices.retry(id);
      if (notice === undefined) throw new HttpProblem(409, `This notice was not given up; its state is ${known.state}${known.kind === 'test' ? ', and a test is not repeated: send a new one' : ''}.`);
      await params.records.audit({ atMs: params.clock.nowMs(), by, did: 'sends a notice again', about: `${known.subject} (${id})` });
      return { json: shownNotice(notice) };
    },
  });
}

function sending({ notices }: ServerParams): Route {
  return route({
    method: 'get', path: '/notice-sending', tag: 'notices', summary: 'What this machine has to send with',
    answer: { status: 200, contentType: JSON_TYPE, schema: z.strictObject({ mailFrom: z.string().nullable(), publicUrl: z.string().nullable() }), says: 'where mail comes from, and the address that links begin with' },
    handle: () => ({ json: { mailFrom: notices.mailFrom, publicUrl: notices.publicUrl } satisfies NoticeSending }),
  });
}
