import type { Socket } from 'node:net';

/** Most bytes that MQTT's remaining length takes. @see MQTT 3.1.1, section 2.2.3. */
const MAX_LENGTH_BYTES = 4;

/**
 * Destroy a connection that announces a packet larger than `maxBytes`, before the parser would gather it in memory.
 * Follows the fixed headers in what is read and skips the bodies.
 */
export function limitFrames(socket: Socket, maxBytes: number, onTooLarge: (bytes: number) => void): void {
  const read = socket.read.bind(socket);
  let skip = 0;
  let inLength = false;
  let length = 0;
  let lengthBytes = 0;
  const follow = (chunk: Uint8Array): number | undefined => {
    for (let index = 0; index < chunk.length; ) {
      if (skip > 0) {
        const step = Math.min(skip, chunk.length - index);
        skip -= step;
        index += step;
      } else if (!inLength) {
        inLength = true;
        length = 0;
        lengthBytes = 0;
        index += 1;
      } else {
        const byte = chunk[index]!;
        length += (byte & 0x7f) * 128 ** lengthBytes;
        lengthBytes += 1;
        index += 1;
        const complete = byte < 0x80;
        if (complete ? length > maxBytes : lengthBytes === MAX_LENGTH_BYTES) return length;
        if (complete) {
          inLength = false;
          skip = length;
        }
      }
    }
    return undefined;
  };
  socket.read = (size?: number) => {
    const chunk = read(size) as Buffer | null;
    const tooLarge = chunk === null ? undefined : follow(chunk);
    if (tooLarge === undefined) return chunk;
    onTooLarge(tooLarge);
    socket.destroy();
    return null;
  };
}
