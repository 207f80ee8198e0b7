import type { Log } from '../shared/log.ts';
import type { Waiting } from './intake.ts';

/** Someone who waits: `comesAgain` if an unacknowledged packet is sent again, `isGone` once the connection ended. */
export type Ticket = { readonly bytes: number; readonly comesAgain: boolean; readonly isGone: () => boolean; waiting?: Waiting };

export type WaitingRoom = {
  /** `undefined` when the room is full. */
  readonly enter: (ticket: Ticket) => Ticket | undefined;
  readonly leave: (ticket: Ticket) => void;
};

/**
 * Bounds what waits for its commit in the embedded broker. A connection whose packet waits isn't read on, so only
 * packets of connections that broke meanwhile pile up, and wills. When the room is full, such packets that will come
 * again are let go first. If it stays full, who comes is sent away: what was unacknowledged comes again, and QoS 0
 * promises nothing.
 */
export function createWaitingRoom(params: { readonly mostPackets: number; readonly mostBytes: number; readonly abandon: (waiting: Waiting) => void; readonly log: Log }): WaitingRoom {
  const tickets = new Set<Ticket>();
  let bytesWaiting = 0;
  const full = (): boolean => tickets.size >= params.mostPackets || bytesWaiting >= params.mostBytes;
  const leave = (ticket: Ticket): void => {
    if (tickets.delete(ticket)) bytesWaiting -= ticket.bytes;
  };
  const letGo = (): void => {
    for (const ticket of tickets) {
      if (!ticket.comesAgain || ticket.waiting === undefined || !ticket.isGone()) continue;
      params.abandon(ticket.waiting);
      leave(ticket);
    }
  };
  return {
    leave,
    enter(ticket) {
      if (full()) letGo();
      if (full()) {
        params.log.error(`${tickets.size} packets wait for the store, which is all there is room for; ${ticket.comesAgain ? 'a connection was ended, and its packets will come again' : 'a packet of QoS 0 or a will was lost'}.`);
        return undefined;
      }
      tickets.add(ticket);
      bytesWaiting += ticket.bytes;
      return ticket;
    },
  };
}
