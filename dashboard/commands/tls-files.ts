import { readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { createSecureContext } from 'node:tls';
import type { Config } from '../../shared/config.ts';
import type { Problem } from '../../shared/registry.ts';

/** A certificate and its key as PEM, for the listener of the pages. */
export type TlsKeyPair = { readonly cert: string; readonly key: string };

/**
 * Read the certificate and the key that were configured; `undefined` without them. They encrypt what goes over the listener
 * and lift no refusal: it stays on loopback. Problems name the setting, never what the key file holds.
 */
export function tlsFilesOf(config: Config, folder: string): { readonly tls?: TlsKeyPair; readonly problems: readonly Problem[] } {
  const { tlsCertFile, tlsKeyFile } = config;
  if (tlsCertFile === undefined && tlsKeyFile === undefined) return { problems: [] };
  if (tlsCertFile === undefined) return { problems: [{ where: 'LULL_TLS_CERT_FILE', says: 'is missing: LULL_TLS_KEY_FILE is set, and a key is of no use without its certificate' }] };
  if (tlsKeyFile === undefined) return { problems: [{ where: 'LULL_TLS_KEY_FILE', says: 'is missing: LULL_TLS_CERT_FILE is set, and a certificate is of no use without its key' }] };
  const problems: Problem[] = [];
  const cert = read('LULL_TLS_CERT_FILE', resolve(folder, tlsCertFile), problems);
  const key = read('LULL_TLS_KEY_FILE', resolve(folder, tlsKeyFile), problems);
  if (cert === undefined || key === undefined) return { problems };
  const wrong = (context: { cert?: string; key?: string }): string | undefined => {
    try {
      createSecureContext(context);
      return undefined;
    } catch (error) {
      return error instanceof Error && 'code' in error ? String(error.code) : 'not PEM';
    }
  };
  const [certWrong, keyWrong] = [wrong({ cert }), wrong({ key })];
  if (certWrong !== undefined) problems.push({ where: 'LULL_TLS_CERT_FILE', says: `holds no certificate as PEM (${certWrong}): current value is ${JSON.stringify(tlsCertFile)}` });
  if (keyWrong !== undefined) problems.push({ where: 'LULL_TLS_KEY_FILE', says: `holds no private key as PEM without a passphrase (${keyWrong}): current value is ${JSON.stringify(tlsKeyFile)}` });
  if (problems.length > 0) return { problems };
  return wrong({ cert, key }) === undefined ? { tls: { cert, key }, problems: [] } : { problems: [{ where: 'LULL_TLS_KEY_FILE', says: 'holds the key of another certificate than the one in LULL_TLS_CERT_FILE' }] };
}

function read(where: string, path: string, problems: Problem[]): string | undefined {
  try {
    return readFileSync(path, 'utf8');
  } catch (error) {
    problems.push({ where, says: `can't read the file: ${error instanceof Error ? error.message : String(error)}` });
    return undefined;
  }
}
