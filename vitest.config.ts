import { configDefaults, defineConfig } from 'vitest/config';
import { testsWithoutServer } from './tests/servers.mjs';

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts', 'tests/**/*.test.tsx'],
    exclude: [...configDefaults.exclude, ...testsWithoutServer()],
    globalSetup: ['tests/build-first.ts'],
    testTimeout: 60_000,
    hookTimeout: 120_000,
    // A loaded machine takes its time; what never comes fails all the same.
    expect: { poll: { timeout: 15_000 } },
    pool: 'forks',
    // Tests share the modules that they load and nothing else; loading them anew for each file takes a third of the time.
    isolate: false,
    // One less than the processors is the default, and on two processors everything would wait for everything.
    maxWorkers: 2,
    reporters: ['default', ['json', { outputFile: '.build/test-results.json' }]],
  },
});
