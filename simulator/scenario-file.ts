import { parse as parseYaml } from 'yaml';
import { z } from 'zod';
import { parseChannel } from '../shared/channels.ts';
import { type Cause, CAUSES } from '../shared/finding.ts';
import { ID_RULE, isId } from '../shared/ids.ts';
import { PARTS, type Problem, problemsOf } from '../shared/registry.ts';
import { isTimeZone } from '../shared/time.ts';
import { GROWTHS } from './faults/growth.ts';
import { faultVariants } from './faults/table.ts';
import { UPSETS } from './faults/upsets.ts';
import { type ClimateName, CLIMATES } from './plant/climates.ts';
import { SEVERITIES, type Severity, type UpsetKind } from './scenario.ts';
import { CHANNEL_SETS, channelsOf, PIPING_PLACES } from './site-plant.ts';

const id = z.string().refine(isId, { error: `must be ${ID_RULE} and not "presence"` });
const day = z.number().min(0).max(1000);
const share = z.number().min(0).max(1);
const parts = z.union([z.literal('elements'), z.array(z.enum(PARTS))]);
const channel = z.string().refine((name) => parseChannel(name) !== undefined, { error: 'must be a channel, such as feed-pressure' });
const faultCauses = CAUSES.filter((cause) => faultVariants(cause).length > 0) as [Cause, ...Cause[]];

const fault = z.strictObject({
  cause: z.enum(faultCauses),
  variant: z.string().optional(),
  severity: z.enum(SEVERITIES as [Severity, ...Severity[]]),
  /** A day, or the id of the visit that leaves it behind. */
  from: z.union([day, z.string()]),
  /** A day on which it ends by itself, or the id of the visit that mends it. */
  until: z.union([day, z.string()]).optional(),
  /** Days until it has its size; a step when left out. */
  growsDays: z.number().positive().max(1000).optional(),
  growth: z.enum(GROWTHS).default('even'),
  comesAndGoes: z.boolean().default(false),
  /** The visit only makes it smaller: this share of it is left. */
  leftAfterVisit: share.optional(),
  riser: z.number().int().min(1).max(32).default(1),
  channel: channel.optional(),
  otherChannel: channel.optional(),
});

const visit = z.strictObject({ id, day, hours: z.number().positive().max(24).default(1.5), replaced: parts.default([]), /** Logged, and not changed. */ notReally: parts.default([]), by: z.string().max(120).optional(), note: z.string().max(4000).optional(), readGauges: z.boolean().default(false) });

const upset = z.strictObject({ kind: z.enum(Object.keys(UPSETS) as [UpsetKind, ...UpsetKind[]]), from: day, hours: z.number().positive().max(24_000), size: z.number().optional(), riser: z.number().int().min(1).max(32).default(1) });

const generator = z.strictObject({
  id,
  kind: z.enum(['membrane', 'sieve']).default('membrane'),
  swingS: z.number().min(30).max(120).default(60),
  /** With an air receiver of so many litres. */
  receiverLitres: z.number().min(20).max(2000).optional(),
  ratedNLPerMin: z.number().min(5).max(300).default(28),
  nitrogen: z.number().min(0.95).max(0.999).default(0.987),
  tankLitres: z.number().min(20).max(2000).default(115),
  cutInKPa: z.number().min(200).max(900).default(550),
  cutOutKPa: z.number().min(250).max(1000).default(700),
  setKPa: z.number().min(50).max(400).default(240),
  /** In good order. */
  dutyRatio: z.number().min(0.005).max(0.6).default(0.07),
  headroomKPa: z.number().min(20).max(400).default(120),
  risers: z.array(z.number().min(50).max(20_000)).min(1).max(32).default([2300]),
  piping: z.enum(PIPING_PLACES).default('indoors'),
  coldRoom: z.boolean().default(false),
  stepped: z.boolean().default(false),
  regulatorNLPerMinKPa: z.number().min(0.5).max(50).default(9),
  timedDrain: z.boolean().default(false),
  channels: z.union([z.enum(CHANNEL_SETS), z.array(channel).min(1)]).default('full'),
  nitrogenAt: z.enum(['product', 'tank', 'piping']).default('product'),
  reportEveryS: z.number().int().min(10).max(3600).default(300),
  /** Everything is read by the clock, the run state too; nothing is sent on change. */
  readsByClock: z.boolean().default(false),
  /** Days since the elements were new, and years on the compressor. */
  elementsDays: z.number().min(0).max(1000).default(120),
  compressorYears: z.number().min(0).max(20).default(2.5),
  lossRatio: share.default(0),
  doubleRatio: share.default(0),
  clockAheadS: z.number().min(-86_400).max(86_400).default(0),
  /** Where hour meter and start counter begin again at 0. */
  counterEnds: z.strictObject({ runTimeH: z.number().min(1000).optional(), starts: z.number().int().min(1000).optional() }).optional(),
  /** Day-to-day sd of ln(healthy loss). */
  wander: z.number().min(0).max(0.5).default(0),
  use: z.strictObject({ timesPerDay: z.number().min(0).max(10), minutes: z.number().positive().max(120), openingMm: z.number().positive().max(3) }).optional(),
  /** A purge vent on a timer. */
  vent: z.strictObject({ everyH: z.number().min(0.5).max(168), minutes: z.number().min(5).max(600), openingMm: z.number().positive().max(3) }).optional(),
  faults: z.array(fault).max(50).default([]),
  visits: z.array(visit).max(100).default([]),
  upsets: z.array(upset).max(500).default([]),
});

const site = z.strictObject({
  id,
  name: z.string().max(120).optional(),
  area: z.string().max(120).optional(),
  climate: z.enum(Object.keys(CLIMATES) as [ClimateName, ...ClimateName[]]).default('foothill'),
  timeZone: z.string().refine(isTimeZone, { error: 'must be an IANA time zone such as Europe/Lisbon' }).default('UTC'),
  elevationM: z.number().min(-100).max(4000).default(50),
  generators: z.array(generator).min(1).max(500),
  /** The names, or the wires, of two generators exchanged. */
  exchanged: z.array(z.strictObject({ generators: z.tuple([id, id]), from: day, until: day.optional() })).max(50).default([]),
});

const fileSchema = z.strictObject({ name: z.string().min(1).max(120), /** For people. */ says: z.string().max(1000).optional(), days: z.number().min(1).max(1000).default(120), sites: z.array(site).min(1).max(1000) });

/** A world as a person writes it down, with what was left out filled in. */
export type ScenarioFile = z.infer<typeof fileSchema>;
export type SiteFile = ScenarioFile['sites'][number];
export type GeneratorFile = SiteFile['generators'][number];
export type FaultFile = GeneratorFile['faults'][number];

/** Read a scenario file (YAML, or JSON which is YAML too). Every problem is listed, with the path to the value. */
export function parseScenarioFile(text: string): { readonly file: ScenarioFile } | { readonly problems: readonly Problem[] } {
  let raw: unknown;
  try {
    raw = parseYaml(text);
  } catch (error) {
    return { problems: [{ where: 'file', says: `is no YAML or JSON: ${error instanceof Error ? error.message : String(error)}` }] };
  }
  const parsed = fileSchema.safeParse(raw);
  if (!parsed.success) return { problems: problemsOf(parsed.error) };
  const problems = [...repeated(parsed.data.sites, 'sites'), ...parsed.data.sites.flatMap((one, index) => [...repeated(one.generators, `sites.${index}.generators`), ...one.generators.flatMap((made, place) => generatorProblems(made, `sites.${index}.generators.${place}`)), ...exchangeProblems(one, `sites.${index}`)])];
  return problems.length > 0 ? { problems } : { file: parsed.data };
}

function repeated(list: readonly { readonly id: string }[], where: string): Problem[] {
  return list.flatMap((one, index) => (list.findIndex((other) => other.id === one.id) < index ? [{ where: `${where}.${index}.id`, says: `is used twice: ${one.id}` }] : []));
}

function exchangeProblems(made: SiteFile, where: string): Problem[] {
  return made.exchanged.flatMap(({ generators: names }, index): Problem[] => {
    const [one, other] = names.map((name) => made.generators.find((generator) => generator.id === name));
    const at = `${where}.exchanged.${index}.generators`;
    if (one === undefined || other === undefined || one === other) return [{ where: at, says: 'must be two generators of this site' }];
    return channelsSent(one).join() === channelsSent(other).join() ? [] : [{ where: at, says: 'must send the same channels' }];
  });
}

/** What only the whole of a generator can show: names that lead nowhere. */
function generatorProblems(made: GeneratorFile, where: string): Problem[] {
  const problems = repeated(made.visits, `${where}.visits`);
  if (made.cutOutKPa < made.cutInKPa + 20) problems.push({ where: `${where}.cutOutKPa`, says: `must be at least 20 kPa above cutInKPa, which is ${made.cutInKPa}` });
  made.faults.forEach((one, index) => problems.push(...faultProblems(one, made, `${where}.faults.${index}`)));
  made.upsets.forEach((one, index) => {
    if (one.riser > made.risers.length) problems.push({ where: `${where}.upsets.${index}.riser`, says: `must be at most ${made.risers.length}, the number of risers` });
  });
  return problems;
}

/** Names of the channels that the generator will send. */
function channelsSent(made: GeneratorFile): readonly string[] {
  return typeof made.channels === 'string' ? channelsOf(made.channels, made.risers.map((_, index) => `riser-${index + 1}`), made.receiverLitres !== undefined) : made.channels;
}

function faultProblems(one: FaultFile, made: GeneratorFile, where: string): Problem[] {
  const problems: Problem[] = [];
  const variants = faultVariants(one.cause);
  if (one.variant !== undefined && !variants.includes(one.variant)) problems.push({ where: `${where}.variant`, says: `must be one of ${variants.join(', ')}` });
  for (const end of ['from', 'until'] as const) {
    const named = one[end];
    if (typeof named === 'string' && !made.visits.some((visited) => visited.id === named)) problems.push({ where: `${where}.${end}`, says: `must be a day or the id of one of this generator's visits: ${named} is neither` });
  }
  if (one.leftAfterVisit !== undefined && typeof one.until !== 'string') problems.push({ where: `${where}.leftAfterVisit`, says: 'needs the id of a visit in until' });
  if (one.riser > made.risers.length) problems.push({ where: `${where}.riser`, says: `must be at most ${made.risers.length}, the number of risers` });
  if (one.variant === 'exchanged') problems.push({ where: `${where}.variant`, says: 'is of two generators: write it under exchanged of the site' });
  else if (one.cause === 'sensor-fault' && one.channel === undefined) problems.push({ where: `${where}.channel`, says: 'must say which channel lies' });
  const sent = channelsSent(made);
  for (const name of ['channel', 'otherChannel'] as const) {
    const lies = one[name];
    if (lies !== undefined && !sent.includes(lies)) problems.push({ where: `${where}.${name}`, says: `must be one that this generator sends: ${sent.join(', ')}` });
  }
  if (one.variant === 'ageing' && one.channel !== undefined && one.channel !== 'oxygen' && one.channel !== 'nitrogen') problems.push({ where: `${where}.channel`, says: 'must be oxygen or nitrogen, whose cell ages' });
  if (one.variant === 'swapped' && one.otherChannel === undefined) problems.push({ where: `${where}.otherChannel`, says: 'must say with which channel the wires are swapped' });
  return problems;
}
