import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

export interface Certificate {
  readonly key: string;
  readonly cert: string;
  readonly keyFile: string;
  readonly certFile: string;
  remove(): void;
}

/** A self-signed certificate for localhost, as a mail server or broker at home has one. */
export function makeCertificate(): Certificate {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-cert-'));
  const keyFile = join(folder, 'key.pem');
  const certFile = join(folder, 'cert.pem');
  const subject = ['-subj', '/CN=localhost', '-addext', 'subjectAltName=DNS:localhost,IP:127.0.0.1'];
  execFileSync(
    'openssl',
    [
      'req',
      '-x509',
      '-newkey',
      'ec',
      '-pkeyopt',
      'ec_paramgen_curve:prime256v1',
      '-nodes',
      '-days',
      '2',
      ...subject,
    ].concat(['-keyout', keyFile, '-out', certFile]),
    { stdio: 'ignore' },
  );
  return {
    key: readFileSync(keyFile, 'utf8'),
    cert: readFileSync(certFile, 'utf8'),
    keyFile,
    certFile,
    remove: () => rmSync(folder, { recursive: true, force: true }),
  };
}
