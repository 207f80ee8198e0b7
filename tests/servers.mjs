// Which servers and which browser the tests start, where Debian puts them, and which test files can't run without each.
import { accessSync, constants } from 'node:fs';
import { delimiter, join } from 'node:path';

/** Programs stand as lists of which any will do, the best first: the headless shell is the same browser without windows, and takes half the time. */
export const SERVERS = {
  mosquitto: { packages: ['mosquitto', 'mosquitto-clients'], programs: [['mosquitto'], ['mosquitto_pub']], tests: ['tests/journeys/influxdb-journey.test.ts', 'tests/journeys/readme-line.test.ts', 'tests/journeys/real-broker.test.ts', 'tests/ingest/session.test.ts', 'tests/simulator/publish.test.ts'] },
  influxd: { packages: ['influxdb'], programs: [['influxd']], tests: ['tests/shared/store/influxdb-readings.test.ts', 'tests/shared/store/influxdb-own.test.ts', 'tests/journeys/influxdb-outage.test.ts', 'tests/journeys/influxdb-journey.test.ts'] },
  chromium: { packages: ['chromium-headless-shell'], programs: [['chromium-headless-shell', 'chromium']], tests: ['tests/dashboard/web/days-of-people.test.ts', 'tests/dashboard/web/large-fleet.test.ts', 'tests/dashboard/web/pages.test.ts', 'tests/dashboard/web/reading-and-acting.test.ts', 'tests/dashboard/web/visit.test.ts', 'tests/dashboard/web/settings.test.ts', 'tests/dashboard/web/replay.test.ts', 'tests/journeys/four-people.test.ts'] },
};

/** Where a program is; Debian keeps servers outside the search path of plain users. */
export function findProgram(name) {
  const folders = [...(process.env['PATH'] ?? '').split(delimiter), '/usr/sbin', '/usr/bin'];
  return folders.map((folder) => join(folder, name)).find(isProgram);
}

/** Names of the servers that this machine doesn't have. */
export function missingServers() {
  return Object.entries(SERVERS)
    .filter(([, server]) => server.programs.some((ones) => ones.every((one) => findProgram(one) === undefined)))
    .map(([name]) => name);
}

/** Test files that can't run on this machine. */
export function testsWithoutServer() {
  return [...new Set(missingServers().flatMap((name) => SERVERS[name]?.tests ?? []))];
}

function isProgram(path) {
  try {
    accessSync(path, constants.X_OK);
    return true;
  } catch {
    return false;
  }
}
