import { z } from 'zod';
import { problemSchema } from './answer-schemas.ts';
import type { Route } from './route.ts';

export const API_ROOT = '/api/v1';

type Json = { readonly [name: string]: unknown };

/**
 * The description of the API, made from the table of routes and from the schemas that check requests, so that it can't
 * say something else than the server does.
 * @see OpenAPI 3.1, whose schemas are JSON Schema 2020-12
 */
export function openApi(routes: readonly Route[], version: string): Json {
  const paths: Record<string, Record<string, Json>> = {};
  for (const route of routes) (paths[route.path] ??= {})[route.method] = operationOf(route);
  return {
    openapi: '3.1.0',
    info: { title: 'Lull', version, description: 'Maintenance information on nitrogen generators; it replaces no required signal, inspection, test or supervising station. Times are ISO 8601 UTC; units stand last in a name.' },
    servers: [{ url: API_ROOT }],
    paths,
    components: { responses: { Problem: { description: 'RFC 9457 problem; its detail says what to do', content: { 'application/problem+json': { schema: schemaOf(problemSchema, 'output') } } } } },
  };
}

function operationOf(route: Route): Json {
  const problems = [...new Set([400, 403, 500, 503, ...(route.body === null ? [] : [413, 415]), ...route.problems])].sort((a, b) => a - b);
  return {
    operationId: operationId(route),
    tags: [route.tag],
    summary: route.summary,
    parameters: [...parametersOf(route.params, 'path'), ...parametersOf(route.query, 'query')],
    ...(route.body !== null && { requestBody: { required: true, content: { 'application/json': { schema: schemaOf(route.body, 'input') } } } }),
    responses: {
      [route.answer.status]: { description: route.answer.says, content: { [route.answer.contentType]: route.answer.schema === undefined ? {} : { schema: schemaOf(route.answer.schema, 'output') } } },
      ...Object.fromEntries(problems.map((status) => [status, { $ref: '#/components/responses/Problem' }])),
    },
  };
}

function operationId({ method, path }: Route): string {
  return `${method}${path.replaceAll(/[{}]/g, '').split(/[/\-.]/).filter((word) => word !== '').map((word) => word[0]?.toUpperCase() + word.slice(1)).join('')}`;
}

function parametersOf(schema: z.ZodObject, where: 'path' | 'query'): Json[] {
  const { properties = {}, required = [] } = schemaOf(schema, 'input') as { properties?: Record<string, Json>; required?: string[] };
  return Object.entries(properties).map(([name, { description, ...property }]) => ({ name, in: where, required: where === 'path' || required.includes(name), ...(description !== undefined && { description }), schema: property }));
}

function schemaOf(schema: z.ZodType, io: 'input' | 'output'): Json {
  const { $schema: _, ...json } = z.toJSONSchema(schema, { io, unrepresentable: 'any' }) as Record<string, unknown>;
  return json;
}
