// Before the tests: as root on a Debian system install the servers and the browser that they start, and say so.
// Elsewhere name what is missing and which test files are left out for it. LULL_TEST_ALL=yes makes that a failure.
import { spawnSync } from 'node:child_process';
import { existsSync, rmSync, writeFileSync } from 'node:fs';
import { findProgram, missingServers, SERVERS } from './servers.mjs';

const NO_START = '/usr/sbin/policy-rc.d';

/** Run apt without questions and without starting what it installs: the tests start their own servers on free ports. */
function aptInstall(packages) {
  const environment = { ...process.env, DEBIAN_FRONTEND: 'noninteractive' };
  const ours = !existsSync(NO_START);
  if (ours) writeFileSync(NO_START, '#!/bin/sh\nexit 101\n', { mode: 0o755 });
  try {
    const updated = spawnSync('apt-get', ['update', '-qq'], { stdio: ['ignore', 'ignore', 'inherit'], env: environment });
    if (updated.status !== 0) return false;
    return spawnSync('apt-get', ['install', '-y', '-qq', '--no-install-recommends', ...packages], { stdio: ['ignore', 'ignore', 'inherit'], env: environment }).status === 0;
  } finally {
    if (ours) rmSync(NO_START, { force: true });
  }
}

// Of programs of which any will do the best is fetched too.
const wanted = Object.values(SERVERS).filter(({ programs }) => programs.some(([best]) => findProgram(best) === undefined));
if (wanted.length > 0 && process.getuid?.() === 0 && existsSync('/etc/debian_version')) {
  const packages = wanted.flatMap((server) => server.packages);
  console.log(`tests: installing with apt: ${packages.join(' ')}`);
  if (!aptInstall(packages)) console.error('tests: apt could not install them; see above');
}
const missing = missingServers();
for (const name of missing) {
  const { packages, tests } = SERVERS[name];
  console.log(`tests: ${name} is missing (Debian: apt install ${packages.join(' ')}); left out: ${tests.join(', ') || 'no test'}`);
}
if (missing.length > 0 && process.env['LULL_TEST_ALL'] === 'yes') process.exit(1);
