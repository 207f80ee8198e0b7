import { readFileSync } from 'node:fs';

/** The version that package.json names; the program runs two folders below the build, which stands beside it. */
export function programVersion(): string {
  const { version } = JSON.parse(readFileSync(new URL('../../../package.json', import.meta.url), 'utf8')) as { version: string };
  return version;
}
