import type { IncomingHttpHeaders } from 'node:http';

interface Asked {
  readonly headers: IncomingHttpHeaders;
  /** Of the connection, or as a trusted proxy says. */
  readonly protocol: string;
}

const MAX_AGE_S = 365 * 86_400;
const SECRET = /^[\w-]{43}$/;

/**
 * The cookie that makes a browser a session. A browser sends a cookie to every port of a host, so its name contains the port:
 * two services on one machine must not replace each other's session. `__Host-` is allowed over HTTPS only, where it keeps
 * other hosts of the domain from setting the cookie.
 */
export function sessionCookie(asked: Asked, secret: string): string {
  const secure = isHttps(asked);
  const name = (secure ? secureName : plainName)(asked.headers);
  return `${name}=${secret}; Path=/; Max-Age=${MAX_AGE_S}; HttpOnly; SameSite=Strict${secure ? '; Secure' : ''}`;
}

/** The secret in the cookie of a request; null = none. */
export function sessionSecretOf(headers: IncomingHttpHeaders): string | null {
  const cookies = new Map(
    (headers.cookie ?? '').split(';').map((one) => {
      const at = one.indexOf('=');
      return [one.slice(0, Math.max(at, 0)).trim(), one.slice(at + 1).trim()] as const;
    }),
  );
  const secret = cookies.get(secureName(headers)) ?? cookies.get(plainName(headers));
  return secret !== undefined && SECRET.test(secret) ? secret : null;
}

const plainName = ({ host = '' }: IncomingHttpHeaders) => `strandward${/:(\d+)$/.exec(host)?.[1] ?? ''}`;
const secureName = (headers: IncomingHttpHeaders) => `__Host-${plainName(headers)}`;

/** HTTPS may end at a proxy that is not known to be one: then the address of the page reveals it. */
function isHttps({ headers, protocol }: Asked): boolean {
  return (
    protocol === 'https' ||
    headers.origin?.startsWith('https:') === true ||
    (headers.cookie ?? '').includes(`${secureName(headers)}=`)
  );
}
