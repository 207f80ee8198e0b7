import type { Status } from '../../shared/api.ts';
import type { Entry } from '../../shared/entry.ts';
import type { FindingAction } from '../../shared/finding.ts';
import type { Log } from '../../shared/log.ts';
import type { RegistryChange } from '../../shared/registry.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import type { Clock } from '../../shared/time.ts';
import type { Notices } from '../notices/notices.ts';
import type { RegistrySurface } from './fleet-view.ts';
import type { IngestSurface } from './ingest-surface.ts';
import type { ReplaySurface } from './replay-surface.ts';

/** What the pages need of the notices: to try one, to send one again, and what there is to send with. */
export type NoticesSurface = Pick<Notices, 'mailFrom' | 'test' | 'retry'> & { readonly publicUrl: string | null };

export type ServerParams = {
  /** Loopback only, until there are accounts. */
  readonly host: string;
  /** 0 takes a free one. */
  readonly port: number;
  /** Certificate and key as PEM: the pages then come over HTTPS. It lifts no refusal. */
  readonly tls?: { readonly cert: string; readonly key: string };
  /** What vite built: index.html and assets/. */
  readonly webFolder: string;
  readonly readings: ReadingStore;
  readonly records: RecordStore;
  readonly registry: RegistrySurface;
  readonly ingest: IngestSurface;
  readonly status: () => Status | Promise<Status>;
  readonly notices: NoticesSurface;
  readonly clock: Clock;
  readonly log: Log;
  /** Every answer then carries the header `lull-simulated: true`. */
  readonly simulated: boolean;
  /** An entry was kept; analysis wants to know. */
  readonly onEntry: (entry: Entry) => void;
  /** The registry was changed and kept: ingest, analysis and the lists want to know at once. */
  readonly onRegistryChange: (change: RegistryChange) => void;
  /** A person closed a finding: an event of the fold. */
  readonly onClosing: (action: FindingAction) => void;
  /** A job waits in the record store; analysis may answer it at once instead of at its next tick. */
  readonly onJob?: (nowMs: number) => void;
  /** Invented worlds for the engineer's page; without it their paths don't exist. */
  readonly replays?: ReplaySurface;
};
