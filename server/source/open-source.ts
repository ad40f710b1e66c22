import { fileSource } from './file-source.ts';
import { serialSource } from './serial-source.ts';
import { simulatedSource } from './simulated-source.ts';
import type { Source } from './source.ts';
import { parseSourceAddress } from './source-address.ts';
import { tcpSource } from './tcp-source.ts';

/**
 * Create the source for an address, without starting it. A port that does not exist is not an error: the source waits for
 * it.
 * @param clock UTC ms that never step, for the arrival times
 * @throws Problem `bad-setting`: the address is wrong; `source-unusable`: the file to replay cannot be read
 */
export function openSource(address: string, clock: () => number): Source {
  const parsed = parseSourceAddress(address);
  switch (parsed.kind) {
    case 'simulator':
      return simulatedSource(parsed, clock);
    case 'serial':
      return serialSource(parsed, clock);
    case 'tcp':
      return tcpSource(parsed, clock);
    case 'file':
      return fileSource(parsed);
  }
}
