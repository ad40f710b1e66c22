import { DeliveryFailure, RETRIED } from './delivery.ts';
import { asNetworkFailure, codeOf } from './network-errors.ts';

const ACCESS = 'Enter a user name and password, or a client certificate, that the broker accepts.';
const REFUSED_LOGIN = ['refuses the login: the user name or password is wrong or missing', ACCESS] as const;
const RIGHTS = 'Allow this user to publish below the base topic, in the settings of the broker.';
const LIMITS = 'Raise its limits, or use another broker.';

const [BAD_LOGIN, NOT_AUTHORIZED] = [134, 135];
/** A message too large for the broker. */
export const TOO_LARGE = 149;

/** What is wrong and what to do, by reason code: MQTT 5.0, section 2.4, and below 6 the return codes of MQTT 3.1.1, table 3.1. */
const TEXTS: Readonly<Record<number, readonly [string, string]>> = {
  2: ['does not accept the name of this client', RETRIED],
  3: ['is not available', RETRIED],
  4: REFUSED_LOGIN,
  5: REFUSED_LOGIN,
  133: ['does not accept the name of this client', RETRIED],
  [BAD_LOGIN]: REFUSED_LOGIN,
  [NOT_AUTHORIZED]: ['does not allow this', RIGHTS],
  136: ['is not available', RETRIED],
  137: ['is busy', RETRIED],
  138: ['has banned this client', 'Lift the ban in the settings of the broker.'],
  139: ['is shutting down', RETRIED],
  140: ['refuses this kind of login', ACCESS],
  141: ['heard nothing for too long', RETRIED],
  142: ['has given this connection to another client', RETRIED],
  144: ['does not accept the topic', 'Choose another base topic.'],
  [TOO_LARGE]: ['refuses the message because it is too large', LIMITS],
  150: ['gets too many messages', LIMITS],
  151: ['has reached its quota', LIMITS],
  152: ['ended the connection on order of its administrator', RETRIED],
  154: ['does not keep messages (retain), which the state needs', 'Allow it in the settings of the broker.'],
  155: ['does not acknowledge messages (QoS 1)', 'Allow it in the settings of the broker.'],
  156: ['has moved', 'Enter the address of the other broker.'],
  157: ['has moved', 'Enter the address of the other broker.'],
  159: ['gets too many connections', RETRIED],
};

/** The broker does not speak this version: MQTT 3.1.1, table 3.1, and MQTT 5.0, section 3.2.2.2. */
export function isVersionRefused(thrown: unknown): boolean {
  const code = reasonCode(thrown);
  return code === 1 || code === 132;
}

/** Anything thrown by the connection to a broker, or a packet that ends it. */
export function asBrokerFailure(
  thrown: unknown,
  { host, signal, isLogin = false }: { host: string; signal: AbortSignal; isLogin?: boolean },
): DeliveryFailure {
  if (thrown instanceof DeliveryFailure) return thrown;
  // What aborts an attempt has a code, too, which is none of a broker.
  if (signal.aborted) return asNetworkFailure(thrown, `the broker ${host}`, signal);
  const stated = reasonCode(thrown);
  const code = stated === NOT_AUTHORIZED && isLogin ? BAD_LOGIN : stated;
  const [what, remedy] = TEXTS[code] ?? [`refuses with reason code ${code}`, RETRIED];
  // Only the one message is too large, and always will be.
  if (code > 0)
    return new DeliveryFailure(code === TOO_LARGE ? 'refused' : 'retry', `The broker ${host} ${what}.`, remedy);
  // Alerts of TLS that ask for a certificate, or do not accept it (RFC 8446, section 6.2).
  if (/^ERR_SSL_.*(CERTIFICATE|HANDSHAKE_FAILURE|UNKNOWN_CA)/.test(codeOf(thrown))) {
    const refused = `The broker ${host} does not accept the client certificate, or asks for one.`;
    return new DeliveryFailure('retry', refused, 'Enter a client certificate and its key that the broker knows.', {
      cause: thrown,
    });
  }
  return asNetworkFailure(thrown, `the broker ${host}`, signal);
}

function reasonCode(thrown: unknown): number {
  const { code, reasonCode } = thrown as { code?: unknown; reasonCode?: unknown };
  const stated = code ?? reasonCode;
  return typeof stated === 'number' ? stated : 0;
}
