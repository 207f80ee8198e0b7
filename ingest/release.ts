import type { ReleaseAnswer } from '../shared/api.ts';
import { type Channel, parseChannel } from '../shared/channels.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { QuarantineItem } from '../shared/quarantine.ts';
import { batchBuilder } from '../shared/reading-batch.ts';
import type { RecordStore } from '../shared/store/record-store.ts';
import type { Acceptor } from './accept.ts';
import type { Work } from './commit.ts';
import { type Judged, judgePacket, openPacket } from './judge-packet.ts';
import { type KeptAs, underKeptId } from './kept-as.ts';
import { type Packet, payloadOfQuarantine } from './packet.ts';

type ReleaseParams = { readonly records: RecordStore; readonly acceptor: Acceptor; readonly keptAs: KeptAs; readonly commit: (work: Work) => Promise<void>; readonly receivedMs: number };
const ITEMS_AT_ONCE = 1000;

/**
 * Take what waits in quarantine, with what is known now: a unit that became clear, a registry that was put right.
 * Times are judged and resolved as of the receipt; the readings are stamped as received now, as that is when they
 * reached the log. A value in conflict stays refused, since the first one of a key is kept.
 */
export async function releaseItems(params: ReleaseParams & { readonly ids: readonly number[]; readonly by: string }): Promise<ReleaseAnswer> {
  const wanted = new Set(params.ids);
  const items: QuarantineItem[] = [];
  for (const id of wanted) items.push(...(await params.records.quarantined({ afterId: id - 1, released: false, limit: 1 })).filter((item) => item.id === id));
  const released = await take(params, items);
  await params.records.audit({ atMs: params.receivedMs, by: params.by, did: `released ${released} of ${wanted.size} from quarantine`, about: params.ids.slice(0, 50).join(', ') });
  return { released, stillRefused: wanted.size - released };
}

/** Take all that waited until the unit of one series was clear. */
export async function releaseSeries(params: ReleaseParams & { readonly generator: GeneratorKey; readonly channel: Channel }): Promise<void> {
  for (let afterId = 0; ; ) {
    const found = await params.records.quarantined({ reason: 'unit-unclear', generator: params.generator, released: false, afterId, limit: ITEMS_AT_ONCE });
    await take(params, found.filter((item) => item.channel === params.channel));
    if (found.length < ITEMS_AT_ONCE) return;
    afterId = found.at(-1)!.id;
  }
}

/** Gives how many items have nothing left that is refused. */
async function take(params: ReleaseParams, items: readonly QuarantineItem[]): Promise<number> {
  const into = batchBuilder();
  const packets: Judged[] = [];
  const released: number[] = [];
  for (const item of items) {
    if (item.reason === 'conflicting-value') continue;
    const judged = judgeAgain(item, params, into);
    if (judged.readings === 0) continue;
    packets.push(judged);
    if (judged.refusals.length === 0) released.push(item.id);
  }
  // What is still refused is in quarantine already.
  await params.commit({ batch: into.take(), packets: packets.map((one) => ({ ...one, refusals: [], decided: [], relative: false, generator: null })), refused: [], presence: [], settings: [] });
  if (released.length > 0) await params.records.markReleased(released, params.receivedMs);
  return released.length;
}

function judgeAgain(item: QuarantineItem, params: ReleaseParams, into: ReturnType<typeof batchBuilder>): Judged {
  const packet: Packet = { topic: item.topic, payload: payloadOfQuarantine(item.payload), dup: false, receivedMs: item.receivedMs };
  const channel = parseChannel(item.channel ?? '');
  return judgePacket(packet, underKeptId(openPacket(packet), params.keptAs), params.acceptor, { receivedMs: params.receivedMs, clockMs: item.receivedMs, ...(channel === undefined ? {} : { only: channel }) }, into);
}
