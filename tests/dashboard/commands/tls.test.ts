// Issue: HTTPS off localhost: LULL_TLS_CERT_FILE and LULL_TLS_KEY_FILE encrypt the listener and lift no refusal. Real server.
import { readFileSync } from 'node:fs';
import { request } from 'node:https';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { apiClient } from '../../../dashboard/commands/api-client.ts';
import { examineConfiguration, readConfiguration } from '../../../dashboard/commands/configuration.ts';
import { tlsFilesOf } from '../../../dashboard/commands/tls-files.ts';
import { ConfigError } from '../../../shared/errors.ts';
import { type InventedServer, startInvented } from '../server/invented-fleet.ts';

const FOLDER = join(import.meta.dirname, 'data');
const pem = (name: string): string => readFileSync(join(FOLDER, name), 'utf8');
const says = (environment: Record<string, string>): string => examineConfiguration(environment, FOLDER).problems.map((problem) => `${problem.where}: ${problem.says}`).join('\n');
const tls = { cert: pem('invented-cert.pem'), key: pem('invented-key.pem') };

let world: InventedServer;
beforeAll(async () => {
  world = await startInvented({ change: { tls } });
});
afterAll(() => world.stop());

const run = (cert: string) => ({ pid: 1, url: `https://127.0.0.1:${world.server.port}`, mqttUrl: 'mqtt://127.0.0.1:1883', startedAt: '2026-11-24T12:00:00Z', simulated: true, cert });

test('tlsFilesOf() reads both files, and every mistake is said with its setting', () => {
  const both = { LULL_TLS_CERT_FILE: 'invented-cert.pem', LULL_TLS_KEY_FILE: 'invented-key.pem' };
  expect(says(both)).toBe('');
  expect(tlsFilesOf(readConfiguration(both, FOLDER).config, FOLDER)).toEqual({ tls, problems: [] });
  expect(tlsFilesOf(readConfiguration({}, FOLDER).config, FOLDER)).toEqual({ problems: [] });
  expect(says({ LULL_TLS_CERT_FILE: 'invented-cert.pem' })).toMatch(/^LULL_TLS_KEY_FILE: is missing/);
  expect(says({ LULL_TLS_KEY_FILE: 'invented-key.pem' })).toMatch(/^LULL_TLS_CERT_FILE: is missing/);
  expect(says({ ...both, LULL_TLS_KEY_FILE: 'none.pem' })).toMatch(/^LULL_TLS_KEY_FILE: can't read the file/);
  expect(says({ ...both, LULL_TLS_CERT_FILE: 'README.md' })).toMatch(/^LULL_TLS_CERT_FILE: holds no certificate as PEM/);
  expect(says({ ...both, LULL_TLS_KEY_FILE: 'invented-cert.pem' })).toMatch(/^LULL_TLS_KEY_FILE: holds no private key/);
  expect(says({ ...both, LULL_TLS_KEY_FILE: 'other-key.pem' })).toMatch(/^LULL_TLS_KEY_FILE: holds the key of another certificate/);
  expect(says({ ...both, LULL_HTTP_HOST: '0.0.0.0' })).toContain('must be a loopback address');
});

test('startServer() with a certificate lifts no refusal: loopback only, names of this machine only', async () => {
  await expect(startInvented({ change: { tls, host: '0.0.0.0' } })).rejects.toThrow(ConfigError);
  const status = (host: string): Promise<number> => new Promise((resolve, reject) => {
    request({ host: '127.0.0.1', port: world.server.port, path: '/api/v1/healthz', headers: { host }, ca: tls.cert, checkServerIdentity: () => undefined }, (response) => resolve(response.resume().statusCode ?? 0)).on('error', reject).end();
  });
  expect(await status('127.0.0.1')).toBe(200);
  expect(await status('invented.example')).toBe(403);
  await expect(fetch(`http://127.0.0.1:${world.server.port}/api/v1/healthz`)).rejects.toThrow();
});

test('apiClient() talks to the server whose certificate it knows, and to no other', async () => {
  const answer = await apiClient(run(tls.cert)).get<{ ranking: unknown[] }>('/api/v1/ranking');
  expect(answer.ranking).toHaveLength(6);
  const noted = await apiClient(run(tls.cert)).post<{ id: string }>('/api/v1/findings/invented-finding-0/note', { by: 'Ana', note: 'é' });
  expect(noted.id).toBe('invented-finding-0');
  await expect(apiClient(run(tls.cert)).get('/api/v1/findings/none')).rejects.toThrow(/none/);
  await expect(apiClient(run(pem('other-cert.pem'))).get('/api/v1/ranking')).rejects.toThrow(/doesn't answer/);
});
