import type { HttpsSettings } from '../settings/startup-settings.ts';
import { certificateFromFiles } from './certificate-files.ts';
import type { CertificateParts, ServerCertificate } from './server-certificate.ts';

interface Options extends CertificateParts {
  statedNames(): readonly string[];
}

/** The certificate that the command line asks for. @throws Problem `bad-setting` */
export async function openCertificate(https: HttpsSettings, options: Options): Promise<ServerCertificate> {
  if (https.kind === 'files') return certificateFromFiles(https, options);
  // Loaded only if needed: making certificates takes a few megabytes.
  const [{ HouseAuthority }, { HouseCertificate }] = await Promise.all([
    import('./house-authority.ts'),
    import('./house-certificate.ts'),
  ]);
  return new HouseCertificate({ ...options, authority: HouseAuthority.in(https.folder) });
}
