import { z } from 'zod';
import type { CheckAnswer, GeneratorDetail, GatewayRow, HandOver, HandOverNote, LatestValue, OverviewRow, Packet, ReadingsAnswer, ReleaseAnswer, SecondLook, ServiceListRow, Status } from '../../shared/api.ts';
import { CAUSES, CLOSING_REASONS, DATA_STATES, FINDING_STATES, type Finding, type FindingAction, LIMIT_NAMES, type RankingReport, type RankingRow } from '../../shared/finding.ts';
import { LEAVING_PARTS } from '../../shared/leaving-check.ts';
import { QUARANTINE_REASONS, type QuarantineItem } from '../../shared/quarantine.ts';
import { generatorSchema, siteSchema } from '../../shared/registry.ts';
import { LOOKS, VERDICTS } from '../../shared/review.ts';
import { CYCLE_SOURCES, type Cycle, type DayRow } from '../../shared/cycle.ts';
import { entrySchema } from '../../shared/entry.ts';

/*
 * What the answers look like, for the description of the API and for tests that hold every answer to it. The types in
 * shared/ are the contract; `of` makes the compiler refuse a schema that says something else.
 */

/** A type without brands and without `readonly`, all the way down, so that two spellings of one shape can be compared. */
type Plain<T> = T extends string & { readonly brand: string } ? string : T extends `system-pressure.${string}` ? string : T extends readonly (infer I)[] ? (number extends T['length'] ? Plain<I>[] : { -readonly [K in keyof T]: Plain<T[K]> }) : T extends object ? { -readonly [K in keyof T]: Plain<T[K]> } : T;
/** The schema, if it accepts all that `T` can be and names all of its fields; else an error of the compiler. */
function of<T>() {
  return <S extends z.ZodType>(schema: S & (Plain<T> extends z.input<S> ? (keyof T extends keyof z.input<S> ? unknown : 'the schema leaves out a field') : 'the schema refuses something of the type')): S => schema;
}

const at = z.iso.datetime({ offset: true });
const atOrNull = at.nullable();
const ratio = z.number().nullable();
const cause = z.enum(CAUSES as [(typeof CAUSES)[number], ...(typeof CAUSES)[number][]]);
const causes = z.array(z.strictObject({ cause, probability: z.number() }));
const limit = z.enum(LIMIT_NAMES);
const range = { earliest: atOrNull, likely: atOrNull, latest: atOrNull };
const channel = z.string();

export function pageSchema<S extends z.ZodType>(item: S) {
  return z.strictObject({ items: z.array(item), next: z.string().nullable().describe('goes into `after`; null at the end') });
}

export const rankingRowSchema = of<RankingRow>()(z.strictObject({
  rank: z.number().int(), site: z.string(), generator: z.string(), dataState: z.enum(DATA_STATES),
  dutyRatio: ratio.describe('over the last 7 days'), baselineDutyRatio: ratio, demandChange: ratio.describe('after/before - 1'), deliveryChange: ratio,
  cause: cause.nullable(), causes,
  serviceBy: z.strictObject({ ...range, limit }).nullable().describe('from condition only; null = no end in sight'),
  forecasts: z.array(z.strictObject({ limit, earliest: atOrNull, quarterFrom: atOrNull, likely: atOrNull, quarterTo: atOrNull, latest: atOrNull })),
  dueBy: atOrNull, because: z.string(), findings: z.array(z.string()),
}));

export const findingSchema = of<Finding>()(z.strictObject({
  id: z.string(), site: z.string(), generator: z.string(), openedAt: at, onset: z.strictObject(range), cause, causes,
  among: z.array(cause).nullable(), missingChannels: z.array(z.string()), alongside: z.array(z.string()),
  history: z.array(z.strictObject({ at, cause, probability: z.number(), among: z.array(cause).exactOptional() })),
  evidence: z.array(z.strictObject({ says: z.string(), for: cause, weight: z.number().describe('log likelihood ratio') })),
  settings: z.string(), state: z.enum(FINDING_STATES), shelvedUntil: atOrNull, closedAt: atOrNull, closedReason: z.enum(CLOSING_REASONS).nullable(),
}));

export const rankingSchema = of<RankingReport>()(z.strictObject({ at: atOrNull, ranking: z.array(rankingRowSchema), findings: z.array(findingSchema) }));

const bandDay = z.union([z.strictObject({ day: z.string(), runS: z.number(), restS: z.number() }), z.strictObject({ day: z.string(), runS: z.null(), restS: z.null() })]);
export const overviewRowSchema = of<OverviewRow>()(z.strictObject({
  ...rankingRowSchema.shape,
  siteName: z.string(), generatorName: z.string(), area: z.string().nullable(), timeZone: z.string(), claimed: z.boolean(), lastHeardAt: atOrNull,
  lead: z.strictObject({ finding: z.string(), cause, among: z.array(cause).nullable(), probability: z.number(), onsetLikelyAt: atOrNull, openedAt: at, state: z.enum(FINDING_STATES), shelvedUntil: atOrNull, heldBy: z.string().nullable().exactOptional(), servedAt: atOrNull.exactOptional() }).nullable(),
  band: z.array(bandDay),
}));

const latest = { channel, label: z.string(), value: z.number(), unit: z.string(), at, fresh: z.boolean(), holdsS: z.number().describe('how old it may be and still count as present') };
export const latestValueSchema = of<LatestValue>()(z.strictObject(latest));
const estimate = z.strictObject({ value: z.number(), se: z.number() }).nullable();
const unit = z.enum(['NL/min', 'kPa/min', 'relative']);

/** Days and cycles are rows of the store; a column that is added to them there needs no change here. */
export const dayRowSchema = of<DayRow>()(z.looseObject({
  generator: z.string(), day: z.string(), startMs: z.number(), endMs: z.number(), provisional: z.boolean(), source: z.enum(CYCLE_SOURCES).nullable(),
  coveredS: z.number(), runS: z.number(), restS: z.number(), starts: z.number(), dutyRatio: ratio, unit, demand: estimate, delivery: estimate,
  longestRunS: z.number(), longestRestS: z.number(), cutInKPa: ratio, cutOutKPa: ratio, nitrogen: estimate, dischargeKPa: estimate, feedKPa: estimate,
  elementDropKPa: estimate, systemKPa: estimate, roomC: ratio, pipeC: ratio, humidityPercent: ratio, holdingRatio: z.number(), heard: z.record(z.string(), z.number().optional()),
}));
export const cycleSchema = of<Cycle>()(z.looseObject({ generator: z.string(), startMs: z.number(), runS: z.number(), restS: z.number(), source: z.enum(CYCLE_SOURCES), cut: z.boolean(), fallKPaPerMin: ratio, riseKPaPerMin: ratio, startKPa: ratio, stopKPa: ratio }));

export const actionSchema = of<FindingAction>()(z.strictObject({
  finding: z.string(), atMs: z.number(), by: z.string(), action: z.enum(['acknowledge', 'shelve', 'unshelve', 'plan', 'unplan', 'close', 'reopen', 'note']),
  untilMs: z.number().exactOptional(), visit: z.string().exactOptional(), reason: z.enum(CLOSING_REASONS).exactOptional(), note: z.string().exactOptional(),
}));

/** An entry as it is kept: every default is filled in. */
export const entryAnswerSchema = z.strictObject({ ...entrySchema.in.shape, recordedAt: at });

const beforeAfter = z.strictObject({ days: z.number(), dutyRatio: ratio, meanRunMin: ratio, meanRestMin: ratio, demand: ratio, delivery: ratio, unit, elementDropKPa: ratio, nitrogen: ratio });
const count = z.number();
const urgencySchema = z.strictObject({ ifStopsHours: ratio, ifShutHours: ratio, pipingFallKPaPerHour: ratio, fallFrom: z.enum(['measured', 'from demand']).nullable(), systemKPa: ratio, lowPressureKPa: ratio, says: z.string() });
const canShowSchema = z.strictObject({ smallest: z.array(z.strictObject({ series: z.enum(['demand', 'delivery']), scatter: count, baselineDays: count, within3Days: ratio.describe('after/before - 1'), within10Days: ratio })), says: z.array(z.string()) });
const leakTermsSchema = z.strictObject({
  unit, demandNLPerMin: count, standardLitresPerMin: count, holeMm: z.strictObject({ piping: ratio, tank: ratio }), fallIn24hKPa: ratio, fallIn2hKPa: ratio, energyKWhPerYear: ratio, costPerYear: ratio, says: z.array(z.string()).describe('an indication, never a test result'),
});
const secondLookSchema = of<SecondLook>()(z.strictObject({ visit: z.string(), visitedAt: at, look: z.enum(LOOKS), at, verdict: z.enum(VERDICTS), says: z.array(z.string()), recurrence: z.tuple([z.string(), z.string()]).nullable().describe('ids of the earlier finding and of the one after the visit') }));
export const detailSchema = of<Omit<GeneratorDetail, 'visits' | 'site' | 'generator'>>()(z.strictObject({
  site: siteSchema, generator: generatorSchema, claimed: z.boolean(), row: rankingRowSchema.nullable(), dataState: z.enum(DATA_STATES), lastHeardAt: atOrNull,
  latest: z.array(latestValueSchema), findings: z.array(findingSchema), actions: z.array(actionSchema), visits: z.array(entryAnswerSchema), cannotTell: z.array(z.string()),
  sinceVisit: z.strictObject({ visit: z.string(), visitedAt: at, verdict: z.enum(['improved', 'not improved', 'worse', 'not enough data yet']), before: beforeAfter, after: beforeAfter }).nullable(),
  urgency: urgencySchema.nullable().exactOptional(), canShow: canShowSchema.nullable().exactOptional(), leakTerms: leakTermsSchema.nullable().exactOptional(), secondLooks: z.array(secondLookSchema).exactOptional(),
}).partial({ site: true, generator: true, visits: true }));

const leavingCheckSchema = z.strictObject({
  site: z.string(), generator: z.string(), fromAt: atOrNull, toAt: atOrNull, verdict: z.enum(['unlike usual', 'nothing unlike usual seen', 'too little seen']), suspect: z.enum(['supply-shut', 'bleed-open', 'not-starting', 'other']).nullable(),
  says: z.string(), items: z.array(z.strictObject({ part: z.enum(LEAVING_PARTS), state: z.enum(['as usual', 'unlike usual', 'not seen yet']), says: z.string() })), notSeen: z.array(z.string()), care: z.string(),
});
export const checkAnswerSchema = of<CheckAnswer>()(z.strictObject({ id: z.string(), site: z.string(), generator: z.string(), askedAt: at, answeredAt: atOrNull.describe('null while it waits'), check: leavingCheckSchema.nullable(), problem: z.string().nullable().describe('why there is no check') }));

export const readingsSchema = of<ReadingsAnswer>()(z.strictObject({ site: z.string(), generator: z.string(), channel, unit: z.string(), label: z.string(), fromAt: at, toAt: at, bucketMs: z.number(), points: z.array(z.tuple([z.number(), z.number(), z.number(), z.number()])).describe('[atMs, min, mean, max] of each bucket that holds readings') }));

export const serviceRowSchema = of<ServiceListRow>()(z.strictObject({
  site: z.string(), siteName: z.string(), area: z.string().nullable(), timeZone: z.string(), access: z.string().nullable(), generator: z.string(), generatorName: z.string(), cause: cause.nullable(), causeSays: z.string(), probability: ratio, state: z.enum(FINDING_STATES).nullable(), servedAt: atOrNull.describe('end of the last service since it was found'),
  byAt: atOrNull, byBecause: z.enum(['condition', 'due']).nullable(), byQuantile: z.union([z.literal(0.1), z.literal(0.5)]).nullable().exactOptional(), limit: limit.nullable(), dueAt: atOrNull, runHours: ratio,
  whoMustGo: z.string(), bring: z.array(z.string()), because: z.string(),
}));

const reason = z.enum(QUARANTINE_REASONS);
export const gatewayRowSchema = of<GatewayRow>()(z.strictObject({
  site: z.string(), siteName: z.string(), gateway: z.string().nullable(), online: z.boolean().nullable(), changedAt: atOrNull,
  generators: z.array(z.strictObject({
    generator: z.string(), generatorName: z.string(), claimed: z.boolean(), lastHeardAt: atOrNull, reportEveryS: ratio, silent: z.boolean(),
    channels: z.array(z.strictObject({ ...latest, sentUnit: z.string().nullable(), plausible: z.boolean(), plausibleSays: z.string() })),
    refused: z.array(z.strictObject({ reason, count: z.number(), lastAt: at })),
  })),
}));
export const packetSchema = of<Packet>()(z.strictObject({ at, topic: z.string(), payload: z.string(), readings: z.number(), refused: z.array(z.strictObject({ reason, says: z.string() })) }));
export const quarantineItemSchema = of<QuarantineItem>()(z.strictObject({ id: z.number(), receivedMs: z.number(), topic: z.string(), payload: z.string(), reason, says: z.string(), generator: z.string().nullable(), channel: z.string().nullable(), releasedMs: ratio }));
export const releaseAnswerSchema = of<ReleaseAnswer>()(z.strictObject({ released: z.number(), stillRefused: z.number() }));

export const statusSchema = of<Status>()(z.looseObject({
  nowAt: at, simulated: z.boolean(), timeScale: z.number(), version: z.string(), lastTickAt: atOrNull, lastReadingAt: atOrNull, generators: z.number(), generatorsReporting: z.number(),
  brokerConnected: z.boolean(), brokerSays: z.string(), storeWritable: z.boolean(), storeSays: z.string().optional(), queueLength: z.number(), readingsPerMinute: z.number(), quarantined: z.number(), diskFreeBytes: ratio, storeBytes: z.number(), wants: z.array(z.string()),
}));

export const problemSchema = z.strictObject({ type: z.string(), title: z.string(), status: z.number().int(), detail: z.string().describe('what is wrong and what to do') });
export const siteAnswerSchema = siteSchema;
export const generatorListRowSchema = z.strictObject({ site: z.string(), siteName: z.string(), area: z.string().nullable(), generator: z.string(), generatorName: z.string(), claimed: z.boolean(), dataState: z.enum(DATA_STATES), lastHeardAt: atOrNull });
export const channelRowSchema = z.strictObject({ channel, label: z.string(), unit: z.string().describe('the unit that values are kept in'), senmlUnit: z.string().nullable().describe('null for states, which are sent as `vb`'), possible: z.tuple([z.number(), z.number()]).describe('outside it a value waits in quarantine') });
export const auditLineSchema = z.strictObject({ at, by: z.string(), did: z.string(), about: z.string() });

const handOverLine = z.strictObject({ site: z.string(), siteName: z.string(), generator: z.string(), generatorName: z.string(), finding: z.string().nullable(), says: z.string(), at: atOrNull, by: z.string().nullable(), note: z.string().nullable() });
const handOverLines = z.array(handOverLine);
export const handOverNoteSchema = of<HandOverNote>()(z.strictObject({ id: z.string(), at, by: z.string(), words: z.string(), fromAt: at, generators: z.number(), reporting: z.number() }));
export const handOverSchema = of<HandOver>()(z.strictObject({ fromAt: at, toAt: at, generators: z.number(), reporting: z.number(), fresh: handOverLines, changed: handOverLines, waiting: handOverLines, shelved: handOverLines, checked: handOverLines, silent: handOverLines, visits: handOverLines }));
