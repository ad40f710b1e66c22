import type { IncomingMessage } from 'node:http';

const WHOLE_ADDRESS = /^https?:\/\//i;

/**
 * The path and query of a request. If its target is a whole address, as sent to a proxy, the host in it replaces the header
 * `Host` (RFC 9112, 3.2.2).
 */
export function pathAndQueryOf({ url = '', headers }: Pick<IncomingMessage, 'url' | 'headers'>): string {
  if (!WHOLE_ADDRESS.test(url) || !URL.canParse(url)) return url;
  const { host, pathname, search } = new URL(url);
  headers.host = host;
  return pathname + search;
}
