// Issue: readings in InfluxDB. The real server (Debian's influxd 1.6.7) is held to the list of every reading store.
import { afterAll, beforeAll } from 'vitest';
import { SILENT_LOG } from '../../../shared/log.ts';
import { openInfluxReadings } from '../../../shared/store/influxdb-readings.ts';
import { type Influxd, startInfluxd } from './influxd.ts';
import { readingStoreContract } from './reading-store.contract.ts';

let influxd: Influxd;
let databases = 0;
beforeAll(async () => {
  influxd = await startInfluxd();
});
afterAll(() => influxd.stop());

readingStoreContract('InfluxDB 1.6.7', async () => {
  const database = `contract-${(databases += 1)}`;
  const open = () => openInfluxReadings({ target: { kind: 'database', url: influxd.url, database, retentionPolicy: '', user: '', password: '' }, keepDays: 400, log: SILENT_LOG });
  let store = await open();
  return {
    store,
    async reopen() {
      await store.close();
      store = await open();
      return store;
    },
    async clean() {
      await store.close();
      await influxd.ask(`DROP DATABASE "${database}"`);
    },
  };
}, { persistent: true, runs: 12 });
