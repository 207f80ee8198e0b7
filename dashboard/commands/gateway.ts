import { hashSecret } from '../../ingest/gateways.ts';
import { ID_RULE, isId } from '../../shared/ids.ts';
import { defineCommand, UsageError } from './command.ts';
import { randomBytes } from 'node:crypto';

const SECRET_BYTES = 24;
const SALT_BYTES = 16;

export const gateway = defineCommand({
  name: 'gateway',
  summary: 'make the line that lets a gateway publish to the embedded broker, and its secret',
  wants: ['NAME'],
  options: {
    site: { type: 'string', value: 'SITE', multiple: true, says: 'a site that it may publish under, once for each (wanted)' },
  },
  example: 'npx --no-install lull gateway gw-1 --site quay-7',
  more: 'Put the line under "gateways:" in the file that LULL_MQTT_GATEWAYS names. The gateway connects with NAME as user and the secret as password; the secret is shown once and kept nowhere.',
  async run(values, given, { terminal }) {
    const name = given[0] ?? '';
    const sites = values.site ?? [];
    const wrong = [name, ...sites].find((id) => !isId(id));
    if (wrong !== undefined) throw new UsageError(`a name must be ${ID_RULE}: current value is ${JSON.stringify(wrong)}`);
    if (sites.length === 0) throw new UsageError('--site SITE is missing: a gateway publishes only under the sites named');
    const secret = randomBytes(SECRET_BYTES).toString('base64url');
    terminal.say(`user ${name}, password ${secret}`);
    terminal.out(`  - { name: ${name}, sites: [${sites.join(', ')}], secret: ${JSON.stringify(await hashSecret(secret, randomBytes(SALT_BYTES)))} }`);
  },
});
