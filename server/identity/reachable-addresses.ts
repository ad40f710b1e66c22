import { networkInterfaces } from 'node:os';
import { isLoopback } from '../settings/startup-settings.ts';

interface Listening {
  readonly host: string;
  readonly port: number;
  readonly https: boolean;
  /** Address of the page as users stated it; '' = not stated. */
  readonly pageAddress: string;
}

/** Addresses at which other devices may reach the service, the best one first; none if it listens on this machine only. */
export function reachableAddresses({ host, port, https, pageAddress }: Listening): readonly string[] {
  const stated = pageAddress === '' ? [] : [pageAddress.replace(/\/+$/, '')];
  if (isLoopback(host)) return stated;
  const hosts = host === '0.0.0.0' || host === '::' ? addressesOfThisMachine() : [host];
  return [
    ...stated,
    ...hosts.map((one) => `http${https ? 's' : ''}://${one.includes(':') ? `[${one}]` : one}:${port}`),
  ];
}

function addressesOfThisMachine(): readonly string[] {
  return Object.values(networkInterfaces())
    .flatMap((addresses) => addresses ?? [])
    .filter(({ internal, family }) => !internal && family === 'IPv4')
    .map(({ address }) => address);
}
