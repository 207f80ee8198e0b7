import type { GeneratorKey } from '../ids.ts';
import { cleared, type DirtyMark, marked } from './record-limits.ts';
import type { RecordStore } from './record-store.ts';
import type { SqliteConnection } from './sqlite-connection.ts';

type Part = Pick<RecordStore, 'markDirty' | 'dirty' | 'clearDirty'>;

/** Dirty marks, with a copy in memory: ingest marks before every commit, and most of the time the mark is there already. */
export function dirtyRecords(db: SqliteConnection): Part {
  let marks = new Map<GeneratorKey, DirtyMark>();
  let readAt: number | undefined;
  const fresh = (): Map<GeneratorKey, DirtyMark> => {
    const now = db.foreignChanges();
    if (now === readAt) return marks;
    marks = new Map(db.rows<{ generator: GeneratorKey; received_ms: number; through_ms: number }>('SELECT * FROM dirty').map((row) => [row.generator, { receivedMs: row.received_ms, throughMs: row.through_ms }]));
    readAt = now;
    return marks;
  };
  /** The copy is trusted only once the change is on disk; after a failure it is read anew. */
  const change = async (next: (known: ReadonlyMap<GeneratorKey, DirtyMark>) => readonly (readonly [GeneratorKey, DirtyMark | undefined])[]): Promise<void> => {
    if ((await db.read(() => next(fresh()))).length === 0) return;
    try {
      await db.write(() => {
        readAt = undefined;
        const changes = next(fresh());
        for (const [generator, mark] of changes) {
          if (mark === undefined) db.run('DELETE FROM dirty WHERE generator = ?', generator);
          else db.run('INSERT INTO dirty VALUES (?, ?, ?) ON CONFLICT (generator) DO UPDATE SET received_ms = excluded.received_ms, through_ms = excluded.through_ms', generator, mark.receivedMs, mark.throughMs);
        }
        for (const [generator, mark] of changes) {
          if (mark === undefined) marks.delete(generator);
          else marks.set(generator, mark);
        }
      });
    } catch (error) {
      readAt = undefined;
      throw error;
    }
  };
  return {
    markDirty: (generators, receivedMs) =>
      change((known) => {
        const changes: [GeneratorKey, DirtyMark][] = [];
        for (const generator of generators) {
          const mark = marked(known.get(generator), receivedMs);
          if (mark !== known.get(generator)) changes.push([generator, mark]);
        }
        return changes;
      }),
    dirty: () => db.read(() => [...fresh()].map(([generator, mark]) => ({ generator, receivedMs: mark.receivedMs })).sort((a, b) => (a.generator < b.generator ? -1 : 1))),
    clearDirty: (generators, beforeMs) =>
      change((known) => {
        const changes: [GeneratorKey, DirtyMark | undefined][] = [];
        for (const generator of generators) {
          const mark = known.get(generator);
          if (mark === undefined) continue;
          const left = cleared(mark, beforeMs);
          if (left !== mark) changes.push([generator, left]);
        }
        return changes;
      }),
  };
}
