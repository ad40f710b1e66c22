import { createPrivateKey, type KeyObject, X509Certificate } from 'node:crypto';
import { createSecureContext } from 'node:tls';
import { messageOf, Problem } from '../problem/problem.ts';
import { openRegular, requireAnswer } from '../worker/hanging-path.ts';
import type { CertificateParts, KeyAndCertificate, ServerCertificate } from './server-certificate.ts';

/** Reading two small files this often costs nothing, and misses no way in which they can be replaced. */
const LOOK_EVERY_MS = 2000;
/** Certificate chains have a few kilobytes. */
const FILE_BYTES_MAX = 2 ** 20;
/** Others may read or change it. A group may: its members are chosen, such as those of `ssl-cert`. */
const OPEN_TO_OTHERS = 0o006;

interface CertificateFiles {
  readonly certFile: string;
  readonly keyFile: string;
}

interface ReadFiles {
  readonly pair: KeyAndCertificate;
  /** Whether others may read or change the key. */
  readonly isOpen: boolean;
}

/**
 * A certificate from files, read again whenever they change. What cannot be used is reported, and the certificate before it
 * stays: the two files are rarely replaced at the same moment.
 * @throws Problem `bad-setting` if the files cannot be used now
 */
export async function certificateFromFiles(
  files: CertificateFiles,
  { clock, info, warn }: CertificateParts,
): Promise<ServerCertificate> {
  const warnIfOpen = (isOpen: boolean) => {
    // Used all the same: a file that is mounted in a container often has no other mode.
    if (isOpen) warn('Other users of this machine can read or change the key', { fix: `chmod o-rw ${files.keyFile}` });
  };
  let { pair: current, isOpen: wasOpen } = await readCertificate(files);
  warnIfOpen(wasOpen);
  const listeners = new Set<(successor: KeyAndCertificate) => void>();
  let warned = '';
  try {
    refuseExpired(files.certFile, current, clock());
  } catch (thrown) {
    // After a power cut in the night no one may be there to renew it, and the line must be watched.
    warned = messageOf(thrown);
    warn('The certificate is still used, but browsers will warn about it', { why: warned });
  }
  let isLooking = false;
  let isStopped = false;
  const look = async () => {
    // A drive that hangs is waited for once.
    if (isLooking) return;
    isLooking = true;
    try {
      const { pair: successor, isOpen } = await readCertificate(files);
      if (isStopped) return;
      if (!wasOpen) warnIfOpen(isOpen);
      wasOpen = isOpen;
      refuseExpired(files.certFile, successor, clock());
      warned = '';
      if (successor.cert === current.cert && successor.key === current.key) return;
      current = successor;
      for (const listener of listeners) listener(successor);
      info('A new certificate is in use', { file: files.certFile, until: new X509Certificate(successor.cert).validTo });
    } catch (thrown) {
      const why = messageOf(thrown);
      if (why !== warned)
        warn('The certificate files cannot be used, so the previous certificate stays in use', { why });
      warned = why;
    } finally {
      isLooking = false;
    }
  };
  const timer = setInterval(() => void look(), LOOK_EVERY_MS);
  timer.unref();
  return {
    current: () => current,
    onChange: (listener) => void listeners.add(listener),
    authority: null,
    stop: () => {
      isStopped = true;
      clearInterval(timer);
    },
  };
}

/** @throws Problem `bad-setting` */
async function readCertificate({ certFile, keyFile }: CertificateFiles): Promise<ReadFiles> {
  const { text: cert } = await contentOf(certFile, 'certificate', '--https-cert');
  const { text: key, mode } = await contentOf(keyFile, 'key', '--https-key');
  const certificate = parsed(() => new X509Certificate(cert), certFile, 'no certificate in PEM format', '--https-cert');
  const privateKey: KeyObject = parsed(
    () => createPrivateKey(key),
    keyFile,
    'no private key in PEM format, or one with a passphrase',
    '--https-key',
  );
  if (!certificate.checkPrivateKey(privateKey)) {
    throw unusable(
      `The key ${keyFile} does not belong to the certificate ${certFile}.`,
      'Give --https-cert and --https-key two files that belong together; the certificate of the service comes first in its file.',
    );
  }
  // Also reads the certificates after the first.
  parsed(() => createSecureContext({ key, cert }), certFile, 'certificates that cannot be used', '--https-cert');
  return { pair: { key, cert }, isOpen: (mode & OPEN_TO_OTHERS) !== 0 };
}

/** @throws Problem `bad-setting` */
function refuseExpired(certFile: string, { cert }: KeyAndCertificate, nowMs: number): void {
  const untilMs = Date.parse(new X509Certificate(cert).validTo);
  if (nowMs < untilMs) return;
  throw unusable(
    `The certificate ${certFile} expired on ${new Date(untilMs).toISOString().slice(0, 10)}.`,
    'Renew it. If it is still valid, set the clock of this machine.',
  );
}

async function contentOf(path: string, what: string, option: string): Promise<{ text: string; mode: number }> {
  try {
    await requireAnswer(path);
    const file = await openRegular(path);
    try {
      const { size, mode } = await file.stat();
      if (size > FILE_BYTES_MAX) throw new Error('it is too large');
      return { text: await file.readFile('utf8'), mode };
    } finally {
      await file.close();
    }
  } catch (thrown) {
    throw unusable(
      `The ${what} ${path} cannot be read: ${messageOf(thrown)}.`,
      `Give ${option} a file that the user of the service may read.`,
      thrown,
    );
  }
}

function parsed<T>(parse: () => T, path: string, what: string, option: string): T {
  try {
    return parse();
  } catch (thrown) {
    throw unusable(`The file ${path} contains ${what}: ${messageOf(thrown)}.`, `Give ${option} another file.`, thrown);
  }
}

const unusable = (message: string, remedy: string, cause?: unknown) =>
  new Problem('bad-setting', message, remedy, { cause });
