import { BlockList, isIP } from 'node:net';
import { hostname, networkInterfaces } from 'node:os';
import type { Names } from './make-certificate.ts';

/**
 * Names and networks that exist only within a house: the authority may vouch for nothing else, so whoever steals its key can
 * imitate no other site. Sources: RFC 6762 (.local), 8375 (.home.arpa), 6761 (localhost), 1918, 3927, 4193 and 4291 (addresses);
 * .lan is common practice of home routers.
 */
export const HOUSE_NAMES: Names = {
  dns: ['localhost', 'local', 'lan', 'home.arpa'],
  ip: [
    '10.0.0.0/8',
    '172.16.0.0/12',
    '192.168.0.0/16',
    '127.0.0.0/8',
    '169.254.0.0/16',
    'fc00::/7',
    'fe80::/10',
    '::1/128',
  ],
};

const networks = new BlockList();
for (const network of HOUSE_NAMES.ip) {
  const [address = '', bits] = network.split('/');
  networks.addSubnet(address, Number(bits), familyOf(address));
}

/** Whether a DNS name or an IP address exists only within a house. */
export function isHouseName(name: string): boolean {
  if (isIP(name) !== 0) return networks.check(name, familyOf(name));
  return HOUSE_NAMES.dns.some((domain) => name === domain || name.endsWith(`.${domain}`));
}

/** Names by which other devices may reach this machine. */
export function namesOfThisMachine(): readonly string[] {
  const [own = ''] = hostname().toLowerCase().split('.');
  const addresses = Object.values(networkInterfaces())
    .flatMap((one) => one ?? [])
    // Browsers cannot open an address that is valid on one interface only.
    .filter(({ scopeid }) => scopeid === undefined || scopeid === 0)
    .map(({ address }) => address);
  const names = /^[a-z\d](?:[a-z\d-]*[a-z\d])?$/.test(own)
    ? ['local', 'lan', 'home.arpa'].map((end) => `${own}.${end}`)
    : [];
  return ['localhost', '127.0.0.1', '::1', ...names, ...addresses];
}

/**
 * Names that users have stated: the address to listen on, and that of the page.
 * @param pageAddress '' = not stated
 */
export function statedNames(host: string, pageAddress: string): readonly string[] {
  const page = URL.canParse(pageAddress) ? [new URL(pageAddress).hostname.replace(/^\[|\]$/g, '')] : [];
  return [...(host === '0.0.0.0' || host === '::' ? [] : [host]), ...page];
}

function familyOf(address: string): 'ipv4' | 'ipv6' {
  return isIP(address) === 6 ? 'ipv6' : 'ipv4';
}
