/** What libuv writes: “ENOENT: no such file or directory, open '/x'”, “listen EADDRNOTAVAIL: address not available 192.0.2.1:80”. */
const SYSTEM_ERROR = /^(?:\w+ )?E[A-Z0-9]+: (.+?)(?:, \w+(?: '.*)?)?$/s;

/** By error code: what the network, the engine of the record and TLS say only in words for programmers. */
const TEXTS: Readonly<Record<string, string>> = {
  ECONNREFUSED: 'nothing is listening there',
  ECONNRESET: 'the other side broke off the connection',
  EPIPE: 'the other side broke off the connection',
  EHOSTUNREACH: 'it cannot be reached from this machine',
  ENETUNREACH: 'it cannot be reached from this machine',
  ETIMEDOUT: 'it does not answer',
  ENOTFOUND: 'this name is not known',
  EAI_AGAIN: 'this name cannot be looked up now',
  SQLITE_FULL: 'the disk is full',
  SQLITE_NOTADB: 'it is not a database',
  ERR_OSSL_PEM_NO_START_LINE: 'no line of it starts with -----BEGIN',
  ERR_OSSL_UNSUPPORTED: 'its format is not supported',
};

/** What the system says in words, as the end of a sentence; null = the error is not of the system. */
export function systemErrorText(error: Error): string | null {
  const { code = '', reason, syscall } = error as Error & { code?: unknown; reason?: unknown; syscall?: unknown };
  const known = Object.hasOwn(TEXTS, String(code)) ? TEXTS[String(code)] : undefined;
  if (known !== undefined) return known;
  if (String(code).startsWith('ERR_OSSL_') && typeof reason === 'string') return reason;
  // Of `fetch`, without a code: ports such as 22, which no web server uses.
  if (error.message === 'bad port') return 'web addresses cannot have this port';
  return syscall === undefined ? null : error.message.replace(SYSTEM_ERROR, '$1');
}
