import { rootCertificates } from 'node:tls';

/** What to trust: the usual authorities, and a certificate that a person entered. Undefined = the usual ones. */
export function trusted(certificate: string): string[] | undefined {
  return certificate.trim() === '' ? undefined : [...rootCertificates, certificate];
}
