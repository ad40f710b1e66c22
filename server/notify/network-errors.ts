import { messageOf } from '../problem/problem.ts';
import { DeliveryFailure, RETRIED } from './delivery.ts';

/** What is wrong and what to do, by error code. Host names are not secret. */
const TEXTS: Readonly<Record<string, readonly [string, string]>> = {
  ECONNREFUSED: ['Nothing is listening at {host}.', 'Is it running, and is the port right?'],
  ECONNRESET: ['{host} broke the connection.', 'Is the port right, and does it use TLS there? It will be tried again.'],
  EPIPE: ['{host} broke the connection.', RETRIED],
  ENOTFOUND: ['{host} cannot be found.', 'Is its name spelled right, and is this machine on the network?'],
  EAI_AGAIN: ['The name {host} cannot be looked up now.', 'Is this machine on the network?'],
  ETIMEDOUT: ['{host} does not answer.', 'Is it switched on and reachable from this machine?'],
  ESOCKET: ['The connection to {host} cannot be made.', 'Are address, port and security right?'],
  EHOSTUNREACH: ['There is no route to {host}.', 'Is this machine on the network?'],
  ENETUNREACH: ['There is no route to {host}.', 'Is this machine on the network?'],
  DEPTH_ZERO_SELF_SIGNED_CERT: [
    'The certificate of {host} is self-signed.',
    'If it is your own server, enter its certificate in the channel. Otherwise send nothing there.',
  ],
  SELF_SIGNED_CERT_IN_CHAIN: [
    'The certificate of {host} comes from an unknown authority.',
    'If it is your own, enter its certificate in the channel. Otherwise send nothing there.',
  ],
  UNABLE_TO_VERIFY_LEAF_SIGNATURE: [
    'The certificate of {host} cannot be verified.',
    'If it is your own server, enter its certificate in the channel. Otherwise send nothing there.',
  ],
  CERT_HAS_EXPIRED: [
    'The certificate of {host} has expired.',
    'Its owner must renew it. Is the clock of this machine right?',
  ],
  ERR_TLS_CERT_ALTNAME_INVALID: ['The certificate of {host} is for another name.', 'Use the name in the certificate.'],
  // Of the HTTP parser: HPE_INVALID_CONSTANT and many more.
  HPE: ['{host} does not answer as a web server does.', 'Is the port right, and does it use TLS there?'],
  EPROTO: ['{host} does not speak TLS as expected.', 'Are port and security right?'],
};

/** Errors of a connection that was not made. */
const UNREACHED = new Set(['ECONNREFUSED', 'ENOTFOUND', 'EAI_AGAIN', 'EHOSTUNREACH', 'ENETUNREACH']);

/** Anything thrown while sending to a host, as a failure that may pass. */
export function asNetworkFailure(thrown: unknown, host: string, signal: AbortSignal): DeliveryFailure {
  if (thrown instanceof DeliveryFailure) return thrown;
  if (signal.aborted) {
    return new DeliveryFailure('retry', `${host} did not answer in time.`, RETRIED, { cause: thrown });
  }
  const code = codeOf(thrown);
  const [what, remedy] = TEXTS[code.startsWith('HPE_') ? 'HPE' : code] ?? [
    `The connection to {host} failed: ${innermost(thrown)}.`,
    RETRIED,
  ];
  return new DeliveryFailure('retry', what.replaceAll('{host}', host).replace(/^the /, 'The '), remedy, {
    isUnreached: UNREACHED.has(code),
    cause: thrown,
  });
}

function innermost(thrown: unknown): string {
  return thrown instanceof Error && thrown.cause !== undefined ? innermost(thrown.cause) : messageOf(thrown);
}

/** The innermost error code. */
export function codeOf(thrown: unknown): string {
  if (!(thrown instanceof Error)) return '';
  const inner = codeOf(thrown.cause);
  if (inner !== '') return inner;
  if (thrown instanceof AggregateError && thrown.errors.length > 0) return codeOf(thrown.errors[0]);
  const code = 'code' in thrown ? String(thrown.code) : '';
  // The mail library replaces the engine's code with its own; the message still contains the original.
  return code === '' || WRAPPED.has(code) ? (codeText(thrown.message) ?? code) : code;
}

const WRAPPED = new Set(['ESOCKET', 'ECONNECTION', 'EDNS']);

function codeText(message: string): string | null {
  // Of the MQTT library.
  if (message === 'connack timeout') return 'ETIMEDOUT';
  if (/self[- ]signed certificate in/.test(message)) return 'SELF_SIGNED_CERT_IN_CHAIN';
  if (/self[- ]signed certificate/.test(message)) return 'DEPTH_ZERO_SELF_SIGNED_CERT';
  if (/certificate has expired/.test(message)) return 'CERT_HAS_EXPIRED';
  if (/unable to verify/.test(message)) return 'UNABLE_TO_VERIFY_LEAF_SIGNATURE';
  if (/altnames/.test(message)) return 'ERR_TLS_CERT_ALTNAME_INVALID';
  return /\b(E[A-Z_]{4,})\b/.exec(message)?.[1] ?? null;
}
