import { fileSource } from './file-source.ts';
import { serialSource } from './serial-source.ts';
import { simulatedSource } from './simulated-source.ts';
import type { Source } from './source.ts';
import { parseSourceAddress } from './source-address.ts';
import { tcpSource } from './tcp-source.ts';

/**
 * The source that an address names, not yet started.
 * @param clock UTC ms that never step; it stamps what arrives
 * @throws Problem `bad-setting`: the address is wrong; `source-unusable`: there is no such file to replay. A missing port is
 * waited for.
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
