import type { Static } from 'typebox';
import { routes } from './route-table.ts';
import { bytes, component, text } from './schema.ts';

export const CertificateView = component(
  'AuthorityCertificate',
  {
    fingerprint: text({ description: 'SHA-256, as systems show it: AB:CD:…' }),
    file: text({ description: 'Path of the certificate, in PEM format' }),
  },
  'The certificate of the authority of the house. Devices that have installed it trust the HTTPS of this service.',
);
export type CertificateView = Static<typeof CertificateView>;

export const AUTHORITY_FILE = '/api/certificate/strandward-house.crt';

/** What a device needs before it can use HTTPS. Also served over plain HTTP, because HTTPS needs it first. */
export const certificate = routes({
  'GET /api/certificate': {
    operationId: 'getAuthorityCertificate',
    tag: 'access',
    right: 'none',
    summary: 'Get the fingerprint of the certificate to install',
    description: '404 if there is none: the service was not started with “--https own-ca”.',
    answers: { 200: CertificateView },
  },
  [`GET ${AUTHORITY_FILE}` as const]: {
    operationId: 'downloadAuthorityCertificate',
    tag: 'access',
    right: 'none',
    summary: 'Download the certificate to install',
    description: 'In PEM format. It contains no secret.',
    answers: { 200: bytes() },
    produces: ['application/x-x509-ca-cert'],
  },
});
