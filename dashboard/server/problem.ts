import { STATUS_CODES } from 'node:http';
import type { NextFunction, Request, Response } from 'express';
import type { ProblemDetails } from '../../shared/api.ts';
import { StoreError } from '../../shared/errors.ts';
import type { Log } from '../../shared/log.ts';

/** A request that can't be answered as asked; `detail` tells a person what to do. @see RFC 9457 */
export class HttpProblem extends Error {
  override readonly name = 'HttpProblem';
  readonly status: number;
  readonly headers: Readonly<Record<string, string>>;
  constructor(status: number, detail: string, headers: Readonly<Record<string, string>> = {}) {
    super(detail);
    this.status = status;
    this.headers = headers;
  }
}

/** The body of a problem. Its type is `about:blank`: the status says all that a program must know. */
export function problemDetails(status: number, detail: string): ProblemDetails {
  return { type: 'about:blank', title: STATUS_CODES[status] ?? 'Error', status, detail };
}

export function sendProblem(response: Response, status: number, detail: string, headers: Readonly<Record<string, string>> = {}): void {
  response.status(status).set({ 'cache-control': 'no-store', ...headers });
  response.type('application/problem+json').send(JSON.stringify(problemDetails(status, detail)));
}

/** What express itself throws, for example while it reads a body. */
type ThrownByExpress = { readonly status?: unknown; readonly type?: unknown };

/** The last handler: every error becomes a problem; what we did not expect is logged and said without its inside. */
export function problemHandler(log: Log) {
  return (error: unknown, request: Request, response: Response, next: NextFunction): void => {
    if (response.headersSent) {
      next(error);
      return;
    }
    const { status, detail, headers } = problemOf(error);
    if (status >= 500) log.error(`${request.method} ${request.path} could not be answered`, { status, error: error instanceof Error ? error.message : String(error) });
    sendProblem(response, status, detail, headers);
  };
}

function problemOf(error: unknown): { readonly status: number; readonly detail: string; readonly headers?: Readonly<Record<string, string>> } {
  if (error instanceof HttpProblem) return { status: error.status, detail: error.message, headers: error.headers };
  if (error instanceof StoreError) return { status: 503, detail: 'The store does not answer at the moment. Nothing is lost; ask again in some seconds.', headers: { 'retry-after': '5' } };
  const { status, type } = (error ?? {}) as ThrownByExpress;
  if (type === 'entity.too.large') return { status: 413, detail: 'The body is larger than 1 MB. Send less at once.' };
  if (type === 'entity.parse.failed') return { status: 400, detail: 'The body is no JSON. Send one JSON object.' };
  if (typeof status === 'number' && status >= 400 && status < 500) return { status, detail: 'The request cannot be read as it stands. Check its path, headers and body.' };
  return { status: 500, detail: 'Something went wrong inside. The log of the server says what.' };
}
