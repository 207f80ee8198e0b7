import type { Log } from '../shared/log.ts';
import type { Waiting } from './intake.ts';

/** Someone who waits: `comesAgain` if an unacknowledged packet is sent again, `isGone` once the connection ended. */
export type Place = { readonly bytes: number; readonly comesAgain: boolean; readonly isGone: () => boolean; waiting?: Waiting };

export type WaitingRoom = {
  /** `undefined` when the room is full. */
  readonly enter: (place: Place) => Place | undefined;
  readonly leave: (place: Place) => void;
};

/**
 * Bounds what waits for its commit in the embedded broker. A connection whose packet waits isn't read on, so only
 * packets of connections that broke meanwhile pile up, and wills. When the room is full, such packets that will come
 * again are let go first. If it stays full, who comes is sent away: what was unacknowledged comes again, and QoS 0
 * promises nothing.
 */
export function createWaitingRoom(params: { readonly mostPackets: number; readonly mostBytes: number; readonly abandon: (waiting: Waiting) => void; readonly log: Log }): WaitingRoom {
  const places = new Set<Place>();
  let bytesWaiting = 0;
  const full = (): boolean => places.size >= params.mostPackets || bytesWaiting >= params.mostBytes;
  const leave = (place: Place): void => {
    if (places.delete(place)) bytesWaiting -= place.bytes;
  };
  const letGo = (): void => {
    for (const place of places) {
      if (!place.comesAgain || place.waiting === undefined || !place.isGone()) continue;
      params.abandon(place.waiting);
      leave(place);
    }
  };
  return {
    leave,
    enter(place) {
      if (full()) letGo();
      if (full()) {
        params.log.error(`${places.size} packets wait for the store, which is all there is room for; ${place.comesAgain ? 'a connection was ended, and its packets will come again' : 'a packet of QoS 0 or a will was lost'}.`);
        return undefined;
      }
      places.add(place);
      bytesWaiting += place.bytes;
      return place;
    },
  };
}
