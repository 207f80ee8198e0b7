import { execFileSync } from 'node:child_process';

/** Tests that start the program run what `npm run build` makes, so it is made anew before any test. */
export default function setup(): void {
  if (process.env['LULL_TEST_BUILT'] === 'yes') return;
  execFileSync('npm', ['run', '--silent', 'build'], { stdio: 'inherit' });
}
