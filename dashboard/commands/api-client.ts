import type { Page, ProblemDetails } from '../../shared/api.ts';
import { pinnedFetch } from './pinned-fetch.ts';
import type { RunFile } from './run-file.ts';

const TIMEOUT_MS = 15_000;

/** The HTTP API of a server that runs on this machine. */
export type ApiClient = {
  /** @throws {Error} with the server's own words if it refuses. */
  get<T>(path: string): Promise<T>;
  post<T>(path: string, body: unknown): Promise<T>;
  /** All pages of a list, at most `most` items. */
  list<T>(path: string, most: number): Promise<readonly T[]>;
};

type Asked = { readonly method?: string; readonly headers: Record<string, string>; readonly body?: string };

export function apiClient(run: RunFile): ApiClient {
  const call = async <T>(path: string, init: Asked): Promise<T> => {
    let response: Response;
    try {
      const asked = { ...init, signal: AbortSignal.timeout(TIMEOUT_MS) };
      response = run.cert === undefined ? await fetch(new URL(path, run.url), asked) : await pinnedFetch(new URL(path, run.url), run.cert, asked);
    } catch (error) {
      throw new Error(`the server at ${run.url} (process ${run.pid}) doesn't answer; stop that process, or wait until it is up`, { cause: error });
    }
    if (!response.ok) throw new Error(await refusal(response));
    return (await response.json()) as T;
  };
  const get = <T>(path: string): Promise<T> => call<T>(path, { headers: { accept: 'application/json' } });
  return {
    get,
    post: (path, body) => call(path, { method: 'POST', headers: { 'content-type': 'application/json', accept: 'application/json' }, body: JSON.stringify(body) }),
    async list<T>(path: string, most: number) {
      const items: T[] = [];
      for (let after: string | null = ''; after !== null && items.length < most; ) {
        const page: Page<T> = await get<Page<T>>(`${path}${path.includes('?') ? '&' : '?'}limit=${Math.min(200, most)}${after === '' ? '' : `&after=${encodeURIComponent(after)}`}`);
        items.push(...page.items);
        after = page.next;
      }
      return items.slice(0, most);
    },
  };
}

async function refusal(response: Response): Promise<string> {
  try {
    const problem = (await response.json()) as Partial<ProblemDetails>;
    return problem.detail ?? problem.title ?? `the server answered ${response.status}`;
  } catch {
    return `the server answered ${response.status}`;
  }
}
