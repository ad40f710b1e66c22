import type { AuthorityCertificate } from '../../certificate/server-certificate.ts';
import { Problem } from '../../problem/problem.ts';
import { AUTHORITY_FILE } from '../contract/certificate.ts';
import { type Api, serve } from '../serve.ts';

/** The certificate that devices install. @param authority null = there is none */
export function certificateRoutes(api: Api, authority: AuthorityCertificate | null): void {
  const present = (): AuthorityCertificate => {
    if (authority === null) {
      throw new Problem(
        'not-found',
        'There is no certificate to install.',
        'Start Strandward with “--https own-ca” for one; with certificate files, or behind a proxy, none is needed.',
      );
    }
    return authority;
  };

  serve(api, 'GET /api/certificate', () => ({ fingerprint: present().fingerprint, file: AUTHORITY_FILE }));

  // Not as an attachment: some phones offer to install it only if it is opened.
  serve(api, `GET ${AUTHORITY_FILE}`, (_, reply) => {
    const { pem } = present();
    reply.type('application/x-x509-ca-cert');
    return Buffer.from(pem);
  });
}
