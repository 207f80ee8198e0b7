import type { NextFunction, Request, Response } from 'express';
import { ConfigError } from '../../shared/errors.ts';
import { HttpProblem } from './problem.ts';

const LOOPBACK_HOSTS: ReadonlySet<string> = new Set(['localhost', '127.0.0.1', '[::1]']);

/** @throws {ConfigError} for anything but loopback: there are no accounts, so whoever reaches the pages may write. */
export function refuseOpenBind(host: string): void {
  if (LOOPBACK_HOSTS.has(host) || host === '::1') return;
  throw new ConfigError(`Cannot listen on ${JSON.stringify(host)} as there are no accounts yet, and whoever reaches the pages could write. Set LULL_HTTP_HOST to 127.0.0.1 and put a reverse proxy that asks for a password on the same host.`);
}

/**
 * Only names of this machine in the Host header, so that a page on the internet whose name was pointed at 127.0.0.1
 * can't read us; and on writing, only from a page that we sent: Origin must be the very Host that was asked.
 * Programs send no Origin and are let in.
 */
export function loopbackOnly(request: Request, _response: Response, next: NextFunction): void {
  const host = request.headers.host ?? '';
  if (!isLoopback(host)) throw new HttpProblem(403, `This server answers only to localhost, 127.0.0.1 and [::1], not to ${JSON.stringify(host)}. A reverse proxy must send one of these as Host.`);
  if (request.method !== 'GET' && request.method !== 'HEAD' && !isOwnOrigin(request.headers.origin, host)) throw new HttpProblem(403, 'Writing is taken only from pages of this server. Open its own address in the browser and do it there.');
  next();
}

function isLoopback(host: string): boolean {
  const match = /^(\[[0-9a-f:]+\]|[^:[\]]+)(?::\d{1,5})?$/i.exec(host);
  return match?.[1] !== undefined && LOOPBACK_HOSTS.has(match[1].toLowerCase());
}

function isOwnOrigin(origin: string | undefined, host: string): boolean {
  if (origin === undefined) return true;
  return origin === `http://${host}` || origin === `https://${host}`;
}

const HEADERS = {
  'content-security-policy': "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
  'x-content-type-options': 'nosniff',
  'x-frame-options': 'DENY',
  'referrer-policy': 'no-referrer',
  'cross-origin-resource-policy': 'same-origin',
  'cross-origin-opener-policy': 'same-origin',
} as const;

/** On every answer: no script but our own files, in no frame, no guessing of types. */
export function securityHeaders(_request: Request, response: Response, next: NextFunction): void {
  response.set(HEADERS);
  next();
}
