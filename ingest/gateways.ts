import { scrypt, timingSafeEqual } from 'node:crypto';
import { promisify } from 'node:util';
import { parse as parseYaml } from 'yaml';
import { z } from 'zod';
import { ConfigError } from '../shared/errors.ts';
import { isId } from '../shared/ids.ts';
import { problemsOf } from '../shared/registry.ts';

const scryptAsync = promisify<string, Buffer, number, { N: number; r: number; p: number }, Buffer>(scrypt);

/** Cost of a hash that we make, by the usual rule for logins; 16 MB and some 50 ms a check. */
const COST = { N: 16_384, r: 8, p: 1 };
const HASH_BYTES = 32;
const SECRET_PATTERN = /^scrypt\$(\d+)\$(\d+)\$(\d+)\$([A-Za-z0-9+/=]+)\$([A-Za-z0-9+/=]+)$/;
/** Largest cost that is taken from a file, so that a slip in it doesn't stop the broker. */
const MAX_COST = 2 ** 17;

const id = z.string().refine(isId, { error: 'must be 1 to 64 of a-z, 0-9 and "-", and not "presence"' });
const gatewaysSchema = z.strictObject({
  gateways: z.array(z.strictObject({ name: id, secret: z.string().regex(SECRET_PATTERN, 'must be scrypt$N$r$p$salt$hash, as hashSecret() writes it'), sites: z.array(id).min(1) })).max(10_000),
});

/** A gateway that may connect, and the sites it may publish under. */
export type Gateway = { readonly name: string; readonly secret: string; readonly sites: readonly string[] };
export type Gateways = ReadonlyMap<string, Gateway>;

/**
 * Read the file of gateways (YAML or JSON): `gateways: [{ name, secret, sites }]`. MQTT's user is the gateway's name,
 * its password the secret.
 * @throws {ConfigError} that lists what is wrong.
 */
export function parseGateways(text: string): Gateways {
  let raw: unknown;
  try {
    raw = parseYaml(text);
  } catch (error) {
    throw new ConfigError(`Cannot read the file of gateways as it must be YAML or JSON: ${error instanceof Error ? error.message : String(error)}`);
  }
  const parsed = gatewaysSchema.safeParse(raw);
  if (!parsed.success) throw new ConfigError(`Cannot use the file of gateways: ${problemsOf(parsed.error).map(({ where, says }) => `${where} ${says}`).join('; ')}`);
  const names = parsed.data.gateways.map(({ name }) => name);
  const twice = names.find((name, index) => names.indexOf(name) !== index);
  if (twice !== undefined) throw new ConfigError(`Cannot use the file of gateways: ${twice} is listed twice`);
  return new Map(parsed.data.gateways.map((gateway) => [gateway.name, gateway]));
}

/** The line that stands for a secret in the file of gateways. @param salt 16 or more random bytes. */
export async function hashSecret(secret: string, salt: Uint8Array): Promise<string> {
  const hash = await scryptAsync(secret, Buffer.from(salt), HASH_BYTES, COST);
  return `scrypt$${COST.N}$${COST.r}$${COST.p}$${Buffer.from(salt).toString('base64')}$${hash.toString('base64')}`;
}

/** Whether a gateway of that name has that secret. A name that isn't known costs as much time as one that is. */
export async function knowsSecret(gateways: Gateways, name: string | undefined, secret: string | undefined): Promise<boolean> {
  const gateway = gateways.get(name ?? '');
  const [, n, r, p, salt = '', hash = ''] = SECRET_PATTERN.exec(gateway?.secret ?? '') ?? [];
  const expected = gateway === undefined ? Buffer.alloc(HASH_BYTES) : Buffer.from(hash, 'base64');
  const cost = gateway === undefined ? COST : { N: Math.min(Number(n), MAX_COST), r: Number(r), p: Number(p) };
  const given = await scryptAsync(secret ?? '', Buffer.from(salt, 'base64'), expected.length, cost);
  return timingSafeEqual(given, expected) && gateway !== undefined && secret !== undefined;
}
