/** Where a program is; `undefined` when this machine doesn't have it. */
export function findProgram(name: string): string | undefined;
export function missingServers(): string[];
export function testsWithoutServer(): string[];
export const SERVERS: Readonly<Record<string, { readonly packages: readonly string[]; readonly programs: readonly (readonly string[])[]; readonly tests: readonly string[] }>>;
