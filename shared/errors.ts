/** A store that doesn't answer or refuses; retried in the shell only. */
export class StoreError extends Error {
  override readonly name = 'StoreError';
}

/** A broker that can't be reached or refuses us. */
export class BrokerError extends Error {
  override readonly name = 'BrokerError';
}

/** What a person configured can't work; the message says what to change. */
export class ConfigError extends Error {
  override readonly name = 'ConfigError';
}
