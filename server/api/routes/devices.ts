import type { IdentityService, Issued } from '../../identity/identity-service.ts';
import { Problem } from '../../problem/problem.ts';
import { refuseIfGuessing, wrongSecret } from '../access.ts';
import type { KeyGuesses } from '../key-guesses.ts';
import { type Api, serve } from '../serve.ts';
import { sessionCookie, sessionSecretOf } from '../session-cookie.ts';

export interface DeviceParts {
  readonly identity: IdentityService;
  readonly guesses: KeyGuesses;
  /** Addresses at which other devices may reach the service. */
  addresses(): readonly string[];
  /** Where a new device installs the certificate of the house; null = it needs none. */
  certificatePage(): string | null;
}

/** Pairing and removing devices, tokens of programs. */
export function deviceRoutes(api: Api, { identity, guesses, addresses, certificatePage }: DeviceParts): void {
  serve(api, 'GET /api/me', ({ access: { right, credential } }) => ({ right, device: credential }));

  serve(api, 'GET /api/devices', () => ({
    devices: identity.list('device'),
    tokens: identity.list('token'),
    accessKey: identity.hasAccessKey,
  }));

  serve(api, 'POST /api/invitations', ({ body, by }) => ({
    ...identity.invite(body.right, by),
    addresses: addresses(),
    certificatePage: certificatePage(),
  }));

  serve(api, 'POST /api/devices', ({ body: { name, code, accessKey }, ip, headers, protocol }, reply) => {
    const secret = code ?? accessKey;
    if (secret === undefined || (code !== undefined && accessKey !== undefined)) {
      const what = secret === undefined ? 'There is neither a code nor an access key.' : 'There are two secrets.';
      throw new Problem('bad-request', what, 'Send either “code” or “accessKey”.');
    }
    refuseIfGuessing(guesses, ip);
    const before = sessionSecretOf(headers);
    const issued: Issued | null =
      code === undefined ? identity.pairWithKey(secret, name, before) : identity.pairWithCode(secret, name, before);
    if (issued === null) {
      wrongSecret(guesses, ip, secret);
      throw new Problem(
        'not-paired',
        code === undefined
          ? 'The access key is wrong.'
          : 'This code is wrong, already used, or older than ten minutes.',
        code === undefined
          ? 'Check the key that the service was started with.'
          : 'Ask for a new one: Set-up → Devices on a paired device, or “strandward pair” on the machine.',
      );
    }
    reply.header('set-cookie', sessionCookie({ headers, protocol }, issued.secret));
    return { right: issued.credential.right, device: issued.credential };
  });

  serve(api, 'GET /api/pairing', () => ({ accessKey: identity.hasAccessKey }));

  serve(api, 'PUT /api/devices/:id', ({ params, body, by }) =>
    identity.changeRight('device', params.id, body.right, by),
  );

  serve(api, 'DELETE /api/devices/:id', ({ params, by }) => identity.revoke('device', params.id, by));

  serve(api, 'POST /api/tokens', ({ body, by }) => {
    const { credential, secret } = identity.addToken(body.name, body.right, by);
    return { token: secret, program: credential };
  });

  serve(api, 'PUT /api/tokens/:id', ({ params, body, by }) => identity.changeRight('token', params.id, body.right, by));

  serve(api, 'DELETE /api/tokens/:id', ({ params, by }) => identity.revoke('token', params.id, by));
}
