import { Problem } from '../problem/problem.ts';
import { type HttpsSettings, usualAuthorityFolder } from '../settings/startup-settings.ts';

/** Values of the options; null = not given. */
interface HttpsOptions {
  readonly https: string | null;
  readonly cert: string | null;
  readonly key: string | null;
  readonly caFolder: string | null;
}

/** @throws Problem `bad-setting` if the options contradict each other */
export function httpsSettings({ https, cert, key, caFolder }: HttpsOptions, dataFolder: string): HttpsSettings | null {
  if (https !== null && https !== 'own-ca') {
    throw refused(
      `“--https ${https}” is not possible.`,
      'Use “--https own-ca”, or --https-cert and --https-key for certificate files.',
    );
  }
  if (https !== null && (cert ?? key) !== null)
    throw refused('There are two certificates to choose from.', 'Give either --https own-ca or certificate files.');
  if ((cert === null) !== (key === null)) {
    throw refused(
      `${cert === null ? '--https-key' : '--https-cert'} is given without ${cert === null ? '--https-cert' : '--https-key'}.`,
      'Give both files.',
    );
  }
  if (https === null && caFolder !== null)
    throw refused('--https-ca-folder is given without --https own-ca.', 'Add --https own-ca.');
  if (cert !== null && key !== null) return { kind: 'files', certFile: cert, keyFile: key };
  return https === null ? null : { kind: 'own-ca', folder: caFolder ?? usualAuthorityFolder(dataFolder) };
}

const refused = (message: string, remedy: string) => new Problem('bad-setting', message, remedy);
