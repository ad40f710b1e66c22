import { rootCertificates } from 'node:tls';

/** The usual authorities and a certificate that a user entered; undefined = only the usual ones. */
export function trusted(certificate: string): string[] | undefined {
  return certificate.trim() === '' ? undefined : [...rootCertificates, certificate];
}
