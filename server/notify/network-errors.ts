import { messageOf } from '../problem/problem.ts';
import { DeliveryFailure } from './delivery.ts';

/** What the network said, in words: what is wrong and what to do. Host names are no secret. */
const WORDS: Readonly<Record<string, readonly [string, string]>> = {
  ECONNREFUSED: ['Nothing listens at {host}.', 'Is it running, and is the port right?'],
  ECONNRESET: ['{host} broke the connection.', 'Is the port right, and does it speak TLS there? It is tried again.'],
  EPIPE: ['{host} broke the connection.', 'It is tried again.'],
  ENOTFOUND: ['The name {host} is not known.', 'Is it spelled right, and is this machine on the internet?'],
  EAI_AGAIN: ['The name {host} cannot be looked up now.', 'Is this machine on the network?'],
  ETIMEDOUT: ['{host} does not answer.', 'Is it switched on and reachable from this machine?'],
  ESOCKET: ['The connection to {host} cannot be made.', 'Are address, port and security right?'],
  EHOSTUNREACH: ['There is no way to {host}.', 'Is this machine on the network?'],
  ENETUNREACH: ['There is no way to {host}.', 'Is this machine on the network?'],
  UND_ERR_CONNECT_TIMEOUT: ['{host} does not answer.', 'Is it switched on and reachable from this machine?'],
  UND_ERR_SOCKET: ['{host} broke the connection.', 'It is tried again.'],
  DEPTH_ZERO_SELF_SIGNED_CERT: [
    'The certificate of {host} is signed by itself.',
    'If it is your own server, give its certificate to the channel; else do not send anything there.',
  ],
  SELF_SIGNED_CERT_IN_CHAIN: [
    'The certificate of {host} comes from an authority that is not known here.',
    'If it is your own, give its certificate to the channel; else do not send anything there.',
  ],
  UNABLE_TO_VERIFY_LEAF_SIGNATURE: [
    'The certificate of {host} cannot be verified.',
    'If it is your own server, give its certificate to the channel; else do not send anything there.',
  ],
  CERT_HAS_EXPIRED: [
    'The certificate of {host} has expired.',
    'Its owner must renew it. Is the clock of this machine right?',
  ],
  ERR_TLS_CERT_ALTNAME_INVALID: [
    'The certificate of {host} is made out to another name.',
    'Use the name that the certificate carries.',
  ],
  EPROTO: ['{host} does not speak TLS as expected.', 'Are port and security right?'],
};

/** Anything thrown on the way to a host, as a failure that may pass. */
export function asNetworkFailure(thrown: unknown, host: string, signal: AbortSignal): DeliveryFailure {
  if (thrown instanceof DeliveryFailure) return thrown;
  if (signal.aborted) {
    return new DeliveryFailure('again', `${host} did not answer in time.`, 'It is tried again.', { cause: thrown });
  }
  const code = codeOf(thrown);
  const [what, remedy] = WORDS[code] ?? [
    `The connection to {host} failed: ${innermost(thrown)}.`,
    'It is tried again.',
  ];
  return new DeliveryFailure('again', what.replaceAll('{host}', host), remedy, { cause: thrown });
}

function innermost(thrown: unknown): string {
  return thrown instanceof Error && thrown.cause !== undefined ? innermost(thrown.cause) : messageOf(thrown);
}

/** The innermost code that says what happened. */
export function codeOf(thrown: unknown): string {
  if (!(thrown instanceof Error)) return '';
  const inner = codeOf(thrown.cause);
  if (inner !== '') return inner;
  if (thrown instanceof AggregateError && thrown.errors.length > 0) return codeOf(thrown.errors[0]);
  const code = 'code' in thrown ? String(thrown.code) : '';
  // The mail library puts a word of its own over the engine's code; the sentence still has it.
  return code === '' || WRAPPED.has(code) ? (codeText(thrown.message) ?? code) : code;
}

const WRAPPED = new Set(['ESOCKET', 'ECONNECTION', 'EDNS']);

function codeText(message: string): string | null {
  if (/self[- ]signed certificate in/.test(message)) return 'SELF_SIGNED_CERT_IN_CHAIN';
  if (/self[- ]signed certificate/.test(message)) return 'DEPTH_ZERO_SELF_SIGNED_CERT';
  if (/certificate has expired/.test(message)) return 'CERT_HAS_EXPIRED';
  if (/unable to verify/.test(message)) return 'UNABLE_TO_VERIFY_LEAF_SIGNATURE';
  if (/altnames/.test(message)) return 'ERR_TLS_CERT_ALTNAME_INVALID';
  return /\b(E[A-Z_]{4,})\b/.exec(message)?.[1] ?? null;
}
