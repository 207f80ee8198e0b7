import type { Page, ProblemDetails } from '../../shared/api.ts';

/** The server said no, or said nothing; the message is for the person at the page. */
export class RequestError extends Error {
  override readonly name = 'RequestError';
  /** Of the answer; `undefined` when none came. */
  readonly status: number | undefined;
  constructor(message: string, options: { readonly cause?: unknown; readonly status?: number } = {}) {
    super(message, { cause: options.cause });
    this.status = options.status;
  }
}

async function answerOf<T>(request: Promise<Response>): Promise<T> {
  let response: Response;
  try {
    response = await request;
  } catch (cause) {
    throw new RequestError('The server does not answer. Check that it runs and that this machine can reach it.', { cause });
  }
  if (response.ok) return (await response.json()) as T;
  const problem = (await response.json().catch(() => undefined)) as Partial<ProblemDetails> | undefined;
  throw new RequestError(forPeople(problem?.detail ?? '') || problem?.title || `The server answered with ${response.status}.`, { status: response.status });
}

const API = '/api/v1';

/** A problem's detail without the sentences that are for programs: where else to ask. */
function forPeople(detail: string): string {
  return detail.split(/(?<=\.) (?=[A-Z])/).filter((sentence) => !sentence.includes(API)).join(' ');
}

export function query(values: Readonly<Record<string, string | number | undefined>>): string {
  const query = new URLSearchParams();
  for (const [name, value] of Object.entries(values)) if (value !== undefined && value !== '') query.set(name, String(value));
  const text = query.toString();
  return text === '' ? '' : `?${text}`;
}

export function get<T>(path: string): Promise<T> {
  return answerOf<T>(fetch(API + path, { headers: { accept: 'application/json' } }));
}

/** `signal` ends the waiting, as when no answer came. */
export function post<T>(path: string, body: unknown, signal: AbortSignal | null = null): Promise<T> {
  return answerOf<T>(fetch(API + path, { method: 'POST', headers: { 'content-type': 'application/json', accept: 'application/json' }, body: JSON.stringify(body), signal }));
}

/**
 * A whole list, page by page; `onPage` gets what is known so far, so that the first rows show before the last are sent.
 * At most 50 pages of 200: a list without an end is an error of the server, not of the page.
 */
export async function getAll<T>(path: string, values: Readonly<Record<string, string | number | undefined>> = {}, onPage?: (soFar: readonly T[]) => void): Promise<readonly T[]> {
  let items: T[] = [];
  let after: string | undefined;
  for (let pages = 0; pages < 50; pages += 1) {
    const page = await get<Page<T>>(path + query({ ...values, limit: 200, after }));
    items = items.concat(page.items);
    if (page.next === null) return items;
    onPage?.(items);
    after = page.next;
  }
  return items;
}
