import { createHash, createPublicKey, type KeyObject, randomBytes, sign } from 'node:crypto';
import { AsnConvert, OctetString } from '@peculiar/asn1-schema';
import {
  AlgorithmIdentifier,
  AttributeTypeAndValue,
  AttributeValue,
  AuthorityKeyIdentifier,
  BasicConstraints,
  Certificate,
  ExtendedKeyUsage,
  Extension,
  Extensions,
  GeneralName,
  GeneralSubtree,
  GeneralSubtrees,
  id_ce_authorityKeyIdentifier,
  id_ce_basicConstraints,
  id_ce_extKeyUsage,
  id_ce_keyUsage,
  id_ce_nameConstraints,
  id_ce_subjectAltName,
  id_ce_subjectKeyIdentifier,
  id_kp_serverAuth,
  KeyIdentifier,
  KeyUsage,
  KeyUsageFlags,
  Name,
  NameConstraints,
  RelativeDistinguishedName,
  SubjectAlternativeName,
  SubjectKeyIdentifier,
  SubjectPublicKeyInfo,
  TBSCertificate,
  Validity,
  Version,
} from '@peculiar/asn1-x509';

/** RFC 5758, 3.2 */
const ECDSA_WITH_SHA256 = '1.2.840.10045.4.3.2';
const COMMON_NAME = '2.5.4.3';

/** DNS names and IP addresses; for an authority, domains and networks such as `10.0.0.0/8`. */
export interface Names {
  readonly dns: readonly string[];
  readonly ip: readonly string[];
}

interface Common {
  readonly subject: string;
  readonly fromMs: number;
  readonly untilMs: number;
}

/**
 * The certificate of an authority that signs itself and may vouch for the permitted names only (RFC 5280, 4.2.1.10).
 * @param key private, on the curve P-256
 */
export function authorityCertificate(about: Common & { readonly permitted: Names }, key: KeyObject): string {
  return certificate({
    ...about,
    issuer: about.subject,
    publicKey: createPublicKey(key),
    signer: key,
    extensions: [
      extension(id_ce_basicConstraints, new BasicConstraints({ cA: true, pathLenConstraint: 0 }), true),
      extension(id_ce_keyUsage, new KeyUsage(KeyUsageFlags.keyCertSign), true),
      extension(id_ce_nameConstraints, new NameConstraints({ permittedSubtrees: subtrees(about.permitted) }), true),
    ],
  });
}

/** The certificate of a server, signed by an authority. */
export function serverCertificate(
  about: Common & { readonly names: Names; readonly issuer: string },
  publicKey: KeyObject,
  signer: KeyObject,
): string {
  return certificate({
    ...about,
    publicKey,
    signer,
    extensions: [
      extension(id_ce_basicConstraints, new BasicConstraints({}), true),
      extension(id_ce_keyUsage, new KeyUsage(KeyUsageFlags.digitalSignature), true),
      extension(id_ce_extKeyUsage, new ExtendedKeyUsage([id_kp_serverAuth])),
      extension(id_ce_subjectAltName, new SubjectAlternativeName(generalNames(about.names))),
    ],
  });
}

interface Parts extends Common {
  readonly issuer: string;
  readonly publicKey: KeyObject;
  /** The issuer's private key. */
  readonly signer: KeyObject;
  readonly extensions: readonly Extension[];
}

/** @returns PEM */
function certificate({ subject, issuer, fromMs, untilMs, publicKey, signer, extensions }: Parts): string {
  const algorithm = new AlgorithmIdentifier({ algorithm: ECDSA_WITH_SHA256 });
  const subjectKey = publicKeyInfo(publicKey);
  const issuerKey = publicKeyInfo(createPublicKey(signer));
  const tbsCertificate = new TBSCertificate({
    version: Version.v3,
    serialNumber: serialNumber(),
    signature: algorithm,
    issuer: commonName(issuer),
    validity: new Validity({ notBefore: new Date(fromMs), notAfter: new Date(untilMs) }),
    subject: commonName(subject),
    subjectPublicKeyInfo: subjectKey,
    extensions: new Extensions([
      ...extensions,
      extension(id_ce_subjectKeyIdentifier, new SubjectKeyIdentifier(keyId(subjectKey))),
      extension(
        id_ce_authorityKeyIdentifier,
        new AuthorityKeyIdentifier({ keyIdentifier: new KeyIdentifier(keyId(issuerKey)) }),
      ),
    ]),
  });
  const signed = new Certificate({
    tbsCertificate,
    signatureAlgorithm: algorithm,
    signatureValue: exactBytes(sign('sha256', Buffer.from(AsnConvert.serialize(tbsCertificate)), signer)),
  });
  const lines =
    Buffer.from(AsnConvert.serialize(signed))
      .toString('base64')
      .match(/.{1,64}/g) ?? [];
  return ['-----BEGIN CERTIFICATE-----', ...lines, '-----END CERTIFICATE-----', ''].join('\n');
}

const extension = (extnID: string, value: unknown, critical = false) =>
  new Extension({ extnID, critical, extnValue: new OctetString(AsnConvert.serialize(value)) });

const commonName = (text: string) =>
  new Name([
    new RelativeDistinguishedName([
      new AttributeTypeAndValue({ type: COMMON_NAME, value: new AttributeValue({ utf8String: text }) }),
    ]),
  ]);

const generalNames = ({ dns, ip }: Names) => [
  ...dns.map((dNSName) => new GeneralName({ dNSName })),
  ...ip.map((iPAddress) => new GeneralName({ iPAddress })),
];

const subtrees = (names: Names) => new GeneralSubtrees(generalNames(names).map((base) => new GeneralSubtree({ base })));

const publicKeyInfo = (key: KeyObject) =>
  AsnConvert.parse(key.export({ type: 'spki', format: 'der' }), SubjectPublicKeyInfo);

/** 160 bits of the SHA-256 of the key (RFC 7093, method 1). */
const keyId = ({ subjectPublicKey }: SubjectPublicKeyInfo) =>
  exactBytes(createHash('sha256').update(Buffer.from(subjectPublicKey)).digest().subarray(0, 20));

/** A positive number without leading zeros. */
function serialNumber(): ArrayBuffer {
  const bytes = randomBytes(16);
  bytes[0] = ((bytes[0] ?? 0) & 0x3f) | 0x40;
  return exactBytes(bytes);
}

/** A Buffer may be part of a larger one. */
const exactBytes = (bytes: Uint8Array): ArrayBuffer => Uint8Array.from(bytes).buffer;
