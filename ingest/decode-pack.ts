import { resolveName } from './resolve-name.ts';

/** Most records that one pack may hold. */
export const MAX_RECORDS = 5000;
/** Times below this are relative to now, s. @see RFC 8428, section 4.5.3. */
const RELATIVE_BELOW_S = 2 ** 28;
/** The SenML version that we read, and the default of `bver`. @see RFC 8428, section 4.4. */
const NEWEST_VERSION = 10;

/** One record with every base field worked in. */
export type SenmlRecord = {
  /** Base name and name joined. */
  readonly name: string;
  /** What follows the last `/` or `:` of the name. */
  readonly channel: string;
  readonly unit: string | undefined;
  readonly atMs: number;
  /** The pack gave a time relative to now; `atMs` was worked out with the time of receipt. */
  readonly relativeTime: boolean;
  /** `v` number, `vb` boolean, `vs` text, `vd` bytes in base64url; `none` when the record can't be read, see `problem`. */
  readonly kind: 'v' | 'vb' | 'vs' | 'vd' | 'none';
  readonly value: number | boolean | string;
  /** What is wrong with this record alone; the others of the pack stand. */
  readonly problem: string | undefined;
  /** Quality flags of a record that an export of ours wrote; 0 elsewhere. */
  readonly quality: number;
};

export type PackRefusal = { readonly rejected: 'malformed' | 'too-large'; readonly says: string };

type Base = { name: string; timeS: number; unit: string | undefined; value: number | undefined; version: number | undefined };
type Raw = { name: string; unit: string | undefined; timeS: number; kind: SenmlRecord['kind']; value: number | boolean | string; values: number; sum: boolean; fields: number; problem: string | undefined; quality: number };

/**
 * Resolve a SenML pack (RFC 8428, JSON) that `JSON.parse` gave, record by record.
 *
 * A wrong base field or one that must be understood refuses the whole pack, since all that follows hangs on it;
 * what is wrong in one record refuses that record. Unknown fields are passed over. A record of base fields alone
 * carries no value and gives none. Checked by hand: replay reads hundreds of thousands of records a second.
 *
 * @param receivedMs what relative times count from; NaN where receipt is unknown, which refuses such records.
 * @param kept times are absolute whatever their size (a line that an export of ours wrote).
 * @see RFC 8428, sections 4.1 to 4.6.
 */
export function decodePack(pack: unknown, receivedMs: number, kept = false): readonly SenmlRecord[] | PackRefusal {
  if (!Array.isArray(pack)) return refuse('payload must be a SenML pack: a JSON array of records');
  if (pack.length > MAX_RECORDS) return { rejected: 'too-large', says: `pack has ${pack.length} records; send at most ${MAX_RECORDS} in one packet` };
  const base: Base = { name: '', timeS: 0, unit: undefined, value: undefined, version: undefined };
  const records: SenmlRecord[] = [];
  for (let index = 0; index < pack.length; index += 1) {
    const record = pack[index] as unknown;
    if (typeof record !== 'object' || record === null || Array.isArray(record)) return refuse(`record ${index + 1} must be a JSON object`);
    const raw: Raw = { name: '', unit: undefined, timeS: 0, kind: 'none', value: 0, values: 0, sum: false, fields: 0, problem: undefined, quality: 0 };
    const wrong = readFields(record as Record<string, unknown>, base, raw);
    if (wrong !== undefined) return refuse(`record ${index + 1}: ${wrong}`);
    if (raw.fields > 0) records.push(resolve(raw, base, receivedMs, kept));
  }
  return records;
}

function refuse(says: string): PackRefusal {
  return { rejected: 'malformed', says };
}

/** Sort the fields of one record into what it says itself and what it sets for those after it; gives what refuses the pack. */
function readFields(record: Record<string, unknown>, base: Base, raw: Raw): string | undefined {
  for (const field in record) {
    const value = record[field];
    switch (field) {
      case 'n':
        raw.fields += 1;
        if (typeof value === 'string') raw.name = value;
        else raw.problem = 'n must be text';
        break;
      case 'u':
        raw.fields += 1;
        if (typeof value === 'string') raw.unit = value;
        else raw.problem = 'u must be text';
        break;
      case 't':
        raw.fields += 1;
        if (isNumber(value)) raw.timeS = value;
        else raw.problem = 't must be a number of seconds';
        break;
      case 'v':
        takeValue(raw, 'v', value, isNumber(value), 'v must be a number');
        break;
      case 'vb':
        takeValue(raw, 'vb', value, typeof value === 'boolean', 'vb must be true or false');
        break;
      case 'vs':
        takeValue(raw, 'vs', value, typeof value === 'string', 'vs must be text');
        break;
      case 'vd':
        takeValue(raw, 'vd', value, typeof value === 'string', 'vd must be text in base64url');
        break;
      case 's':
        raw.fields += 1;
        raw.sum = true;
        break;
      case 'q':
        if (isNumber(value)) raw.quality = value;
        break;
      default: {
        const wrong = readBaseField(field, value, base);
        if (wrong !== undefined) return wrong;
      }
    }
  }
  return undefined;
}

function takeValue(raw: Raw, kind: 'v' | 'vb' | 'vs' | 'vd', value: unknown, right: boolean, problem: string): void {
  raw.fields += 1;
  raw.values += 1;
  raw.kind = kind;
  if (right) raw.value = value as number | boolean | string;
  else raw.problem = problem;
}

/** Base fields, and the rule for unknown ones. */
function readBaseField(field: string, value: unknown, base: Base): string | undefined {
  switch (field) {
    case 'bn':
      if (typeof value !== 'string') return 'bn must be text';
      base.name = value;
      return undefined;
    case 'bt':
      if (!isNumber(value)) return 'bt must be a number of seconds';
      base.timeS = value;
      return undefined;
    case 'bu':
      if (typeof value !== 'string') return 'bu must be text';
      base.unit = value;
      return undefined;
    case 'bv':
      if (!isNumber(value)) return 'bv must be a number';
      base.value = value;
      return undefined;
    case 'bver':
      return readVersion(value, base);
    default:
      return field.endsWith('_') ? `field ${JSON.stringify(field)} must be understood (RFC 8428, section 4.4) and is not known here` : undefined;
  }
}

function readVersion(value: unknown, base: Base): string | undefined {
  if (!isNumber(value) || !Number.isInteger(value) || value < 1) return 'bver must be a whole number above 0';
  if (value > NEWEST_VERSION) return `bver is ${value}; versions up to ${NEWEST_VERSION} are read`;
  if (base.version !== undefined && base.version !== value) return 'bver must be the same in all records of a pack';
  base.version = value;
  return undefined;
}

function resolve(raw: Raw, base: Base, receivedMs: number, kept: boolean): SenmlRecord {
  const name = resolveName(base.name, raw.name);
  const timeS = base.timeS + raw.timeS;
  const relativeTime = !kept && timeS < RELATIVE_BELOW_S;
  const atMs = Math.round(relativeTime ? receivedMs + timeS * 1000 : timeS * 1000);
  const value = raw.kind === 'v' && base.value !== undefined ? base.value + (raw.value as number) : raw.value;
  const problem = raw.problem ?? name.problem ?? valueProblem(raw) ?? (Number.isFinite(atMs) ? undefined : 'time is relative to now and the time of receipt is not known');
  return { name: name.name, channel: name.channel, unit: raw.unit ?? base.unit, atMs, relativeTime, kind: problem === undefined ? raw.kind : 'none', value, problem, quality: raw.quality };
}

function valueProblem(raw: Raw): string | undefined {
  if (raw.values > 1) return 'only one of v, vb, vs and vd may be in a record';
  if (raw.values === 1) return undefined;
  return raw.sum ? 'a sum (s) is not read here; send the value as v' : 'v or vb is missing';
}

/** JSON can write 1e999, which is read as Infinity and measures nothing. */
function isNumber(value: unknown): value is number {
  return typeof value === 'number' && Number.isFinite(value);
}
