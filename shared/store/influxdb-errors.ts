import { HttpError } from '@influxdata/influxdb-client';
import { StoreError } from '../errors.ts';

/** What of the settings is wrong, for whoever knows their names. */
export type InfluxSetting = 'url' | 'credentials' | 'database' | 'organisation' | 'bucket' | 'retention-policy';

/** The server answers, but not as it is configured; trying again doesn't help. */
export class InfluxSetupError extends StoreError {
  readonly about: InfluxSetting;
  constructor(about: InfluxSetting, message: string, options?: ErrorOptions) {
    super(message, options);
    this.about = about;
  }
}

/** The server kept what it could of a request and refuses the rest for good; `words` are its own. */
export class PartialWrite extends Error {
  readonly words: string;
  constructor(words: string, options?: ErrorOptions) {
    super(words, options);
    this.words = words;
  }
}

/** Words of 1.x and 2.x for points that can never be kept: a type that doesn't fit, a time beyond the retention or what it can hold. */
const REFUSED_FOR_GOOD = /partial write|unable to parse|field type conflict|beyond retention|outside (of )?(the )?(retention|range)|time outside range/i;

/** What a failed request means. `what` begins the message, such as "Cannot keep readings". */
export function influxError(what: string, server: string, error: unknown): Error {
  if (error instanceof StoreError || error instanceof PartialWrite || error instanceof RangeError) return error;
  const words = wordsOf(error);
  if (error instanceof HttpError && (error.statusCode === 400 || error.statusCode === 422) && REFUSED_FOR_GOOD.test(words)) return new PartialWrite(words, { cause: error });
  if (error instanceof HttpError) return new StoreError(`${what}: InfluxDB at ${server} answers ${error.statusCode}: ${words}`, { cause: error });
  return new StoreError(`${what}: InfluxDB at ${server} doesn't answer: ${words}`, { cause: error });
}

/** The server's own words, out of whatever wrapping it gave them. */
export function wordsOf(error: unknown): string {
  if (error instanceof HttpError) {
    const json = error.json as { error?: unknown; message?: unknown } | undefined;
    const said = json?.error ?? json?.message;
    return typeof said === 'string' ? said : (error.body ?? '').trim() || (error.statusMessage ?? '');
  }
  // A name that stands for several addresses fails with all of their errors and no message.
  if (error instanceof AggregateError && error.message === '') return error.errors.map((one: unknown) => wordsOf(one)).join('; ');
  return error instanceof Error ? error.message : String(error);
}

/** How long the server asks to be left alone, ms. The header counts seconds; the client's own retries would take them for ms. */
export function retryAfterMs(error: unknown, mostMs: number): number {
  return error instanceof HttpError && (error.statusCode === 429 || error.statusCode === 503) ? Math.min(error.retryAfter() * 1000, mostMs) : 0;
}
