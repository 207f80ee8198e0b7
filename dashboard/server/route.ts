import type { Request, Response } from 'express';
import { z } from 'zod';
import { HttpProblem } from './problem.ts';
import type { StoredDocument } from './stored-document.ts';

/** What a handler gives back; the table of routes knows how to send each. */
export type Answer =
  | { readonly json: unknown; readonly status?: number }
  /** Serialised once, sent to many. */
  | { readonly document: StoredDocument }
  | { readonly text: string; readonly contentType: string; readonly headers?: Readonly<Record<string, string>> }
  /** The handler owns the response from here on. */
  | { readonly stream: (request: Request, response: Response) => void };

/** What comes back, for the description of the API. */
export type Described = { readonly status: number; readonly contentType: string; readonly schema?: z.ZodType; readonly says: string };

export type Route = {
  readonly method: 'get' | 'post';
  /** As OpenAPI writes it: `/generators/{site}/{generator}`, below /api/v1. */
  readonly path: string;
  readonly tag: string;
  readonly summary: string;
  readonly params: z.ZodObject;
  readonly query: z.ZodObject;
  readonly body: z.ZodType | null;
  readonly answer: Described;
  /** Statuses other than success that this route gives on its own account. */
  readonly problems: readonly number[];
  run(request: Request): Promise<Answer>;
};

const NOTHING = z.strictObject({});

type Parts<P extends z.ZodObject, Q extends z.ZodObject, B extends z.ZodType> = {
  readonly method: 'get' | 'post';
  readonly path: string;
  readonly tag: string;
  readonly summary: string;
  readonly params?: P;
  readonly query?: Q;
  readonly body?: B;
  readonly answer: Described;
  readonly problems?: readonly number[];
  readonly handle: (input: { readonly params: z.output<P>; readonly query: z.output<Q>; readonly body: z.output<B> }) => Promise<Answer> | Answer;
};

/** One endpoint: what it takes, what it gives, and who answers. The same schemas check requests and make the description. */
export function route<P extends z.ZodObject = typeof NOTHING, Q extends z.ZodObject = typeof NOTHING, B extends z.ZodType = z.ZodUndefined>(parts: Parts<P, Q, B>): Route {
  const params = parts.params ?? NOTHING;
  const query = parts.query ?? NOTHING;
  const body = parts.body ?? null;
  return {
    method: parts.method, path: parts.path, tag: parts.tag, summary: parts.summary, params, query, body, answer: parts.answer, problems: parts.problems ?? [],
    async run(request) {
      return await parts.handle({
        params: parsed(params, request.params, 'path') as z.output<P>,
        query: parsed(query, request.query, 'query') as z.output<Q>,
        body: (body === null ? undefined : parsed(body, request.body, 'body')) as z.output<B>,
      });
    },
  };
}

/** @throws {HttpProblem} 400 with the name of everything that is wrong, and with what is known. */
export function parsed<S extends z.ZodType>(schema: S, value: unknown, where: 'path' | 'query' | 'body'): z.output<S> {
  const result = schema.safeParse(value ?? {});
  if (result.success) return result.data;
  const lines = result.error.issues.map((issue) => (issue.code === 'unrecognized_keys' ? `unknown: ${issue.keys.join(', ')}` : `${issue.path.map(String).join('.') || 'all of it'}: ${issue.message}`));
  const known = schema instanceof z.ZodObject ? Object.keys(schema.shape) : [];
  throw new HttpProblem(400, `Wrong in the ${where}: ${lines.join('; ')}.${known.length > 0 ? ` Known here: ${known.join(', ')}.` : where === 'query' ? ' No parameters are known here.' : ''}`);
}
