import { fileSource } from './file-source.ts';
import { MissingSource } from './missing-source.ts';
import { refuseForbidden, type SourceLimits } from './permitted-source.ts';
import { serialSource } from './serial-source.ts';
import { simulatedSource } from './simulated-source.ts';
import type { Source } from './source.ts';
import { parseSourceAddress } from './source-address.ts';
import { tcpSource } from './tcp-source.ts';

/**
 * Create the source for an address, without starting it. A port that does not exist is not an error: the source waits for
 * it.
 * @param clock UTC ms that never step, for the arrival times
 * @param limits null = chosen by whoever started the service
 * @throws Problem `bad-setting`: the address is wrong; `source-unusable`: the file to replay cannot be read, or is not permitted
 */
export function openSource(address: string, clock: () => number, limits: SourceLimits | null = null): Source {
  const parsed = parseSourceAddress(address);
  if (limits !== null) refuseForbidden(parsed, limits);
  switch (parsed.kind) {
    case 'simulator':
      return simulatedSource(parsed, clock);
    case 'none':
      return new MissingSource();
    case 'serial':
      return serialSource(parsed, clock);
    case 'tcp':
      return tcpSource(parsed, clock);
    case 'file':
      return fileSource(parsed);
  }
}
