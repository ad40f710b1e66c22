import type { Server, Socket } from 'node:net';
import { isLoopback } from '../settings/startup-settings.ts';
import { networkOf, plainAddress } from './recent-addresses.ts';

/** The alarms, the source and the record need file descriptors too, and many systems give a process 1,024. */
const OPEN_MAX = 800;
/** From one address, which may be that of a proxy in front of two hundred pages. */
const OPEN_FROM_ONE_MAX = 400;

/**
 * Closes the connections of whoever holds too many at once, so that no one on the network can use up the file descriptors by
 * which alarms are sent. This machine itself has no limit.
 * @param refused called once until many of them have been closed; `address` = whose connection was refused
 */
export function limitConnections(server: Server, refused: (address: string, open: number) => void): void {
  const openFrom = new Map<string, number>();
  /** Networks, or all together. */
  const reported = new Set<string | null>();
  let open = 0;
  const count = (network: string, change: 1 | -1) => {
    open += change;
    if (open <= OPEN_MAX / 2) reported.delete(null);
    const held = (openFrom.get(network) ?? 0) + change;
    if (held > 0) return openFrom.set(network, held);
    reported.delete(network);
    return openFrom.delete(network);
  };
  server.prependListener('connection', (socket: Socket) => {
    const address = plainAddress(socket.remoteAddress ?? '');
    if (isLoopback(address)) return;
    const network = networkOf(address);
    const isTooMany = (openFrom.get(network) ?? 0) >= OPEN_FROM_ONE_MAX;
    if (!isTooMany && open < OPEN_MAX) {
      count(network, 1);
      socket.once('close', () => count(network, -1));
      return;
    }
    socket.destroy();
    const full = isTooMany ? network : null;
    if (reported.has(full)) return;
    reported.add(full);
    refused(address, open);
  });
}
