import { chmodSync, rmSync } from 'node:fs';
import { createConnection, createServer, type Socket } from 'node:net';
import { join } from 'node:path';
import { DEVICE_RIGHTS, type DeviceRight } from '../entities/device.ts';
import { messageOf, Problem } from '../problem/problem.ts';
import type { Invitation } from './invitations.ts';

/** An invitation, and where the device that it is for finds the service. */
export interface ReachableInvitation extends Invitation {
  /** Addresses for other devices, the best one first; empty = none now. */
  readonly addresses: readonly string[];
  /** The service listens on this machine only. */
  readonly isForThisMachine: boolean;
  /** Where a new device installs the certificate of the house; null = it needs none. */
  readonly certificatePage: string | null;
  /** Address on this machine. */
  readonly ownAddress: string;
}

interface PairingSocketOptions {
  readonly dataFolder: string;
  invite(right: DeviceRight): ReachableInvitation;
  /** What someone who helps needs to know, as text without secrets. */
  diagnose(): string;
  warn(message: string, facts: Readonly<Record<string, unknown>>): void;
}

/** What asks for a diagnosis instead of an invitation. */
const DIAGNOSIS = 'diagnosis';
/** One word and a line feed. */
const REQUEST_BYTES_MAX = 100;
const ANSWER_WITHIN_MS = 10_000;

const pathIn = (dataFolder: string) => join(dataFolder, 'pairing.sock');

/**
 * Lets `strandward pair` and `strandward doctor` reach the running service: a Unix socket that only the service's user can
 * open. A request is a right on one line, and the answer an invitation as JSON; or the word for a diagnosis, and its text. The lock of the data folder ensures that an old socket is not in use.
 * @returns the function that closes the socket and removes it
 */
export async function openPairingSocket(options: PairingSocketOptions): Promise<() => void> {
  const { dataFolder, warn } = options;
  const answerTo = (request: string): ReachableInvitation | string | null => {
    if (request === DIAGNOSIS) return options.diagnose();
    const right = DEVICE_RIGHTS.find((one) => one === request);
    return right === undefined ? null : options.invite(right);
  };
  const path = pathIn(dataFolder);
  const open = new Set<Socket>();
  const server = createServer((socket) => {
    open.add(socket);
    socket.setTimeout(ANSWER_WITHIN_MS, () => socket.destroy());
    socket.on('close', () => open.delete(socket));
    socket.on('error', () => socket.destroy());
    let asked = '';
    socket.setEncoding('utf8');
    socket.on('data', (chunk) => {
      asked += chunk;
      if (asked.length > REQUEST_BYTES_MAX) socket.destroy();
      if (!asked.includes('\n')) return;
      let answer: ReturnType<typeof answerTo> = null;
      try {
        answer = answerTo(asked.trim());
      } catch (thrown) {
        // The record may fail just when someone looks for the reason. The command then reads what it can itself.
        warn('“strandward pair” or “strandward doctor” got no answer', { why: messageOf(thrown) });
      }
      if (answer === null) socket.destroy();
      else socket.end(`${JSON.stringify(answer)}\n`);
    });
  });
  try {
    rmSync(path, { force: true });
    await new Promise<void>((resolve, reject) => {
      server.once('error', reject);
      server.listen(path, resolve);
    });
    chmodSync(path, 0o600);
  } catch (thrown) {
    // The line is watched all the same. Some file systems have no sockets, and their paths are limited to about 100 bytes.
    warn('“strandward pair” and “strandward doctor” will not work: their socket cannot be opened', {
      path,
      why: messageOf(thrown),
    });
  }
  server.on('error', (thrown) =>
    warn('The socket of “strandward pair” and “strandward doctor” failed', { why: messageOf(thrown) }),
  );
  return () => {
    server.close();
    for (const socket of open) socket.destroy();
    rmSync(path, { force: true });
  };
}

/**
 * Asks the service that runs on a data folder for an invitation.
 * @throws Problem `not-running`
 */
export async function askForInvitation(dataFolder: string, right: DeviceRight): Promise<ReachableInvitation> {
  return (await ask(dataFolder, right)) as ReachableInvitation;
}

/**
 * Asks the service that runs on a data folder what someone who helps needs to know.
 * @throws Problem `not-running`
 */
export async function askForDiagnosis(dataFolder: string): Promise<string> {
  return (await ask(dataFolder, DIAGNOSIS)) as string;
}

async function ask(dataFolder: string, request: string): Promise<unknown> {
  const text = await new Promise<string>((resolve, reject) => {
    const socket = createConnection(pathIn(dataFolder));
    let answer = '';
    socket.setEncoding('utf8');
    socket.setTimeout(ANSWER_WITHIN_MS, () => socket.destroy(unanswered(dataFolder)));
    socket.once('connect', () => socket.write(`${request}\n`));
    socket.on('data', (chunk) => {
      answer += chunk;
    });
    socket.once('error', reject);
    socket.once('close', () => resolve(answer));
  }).catch((thrown: unknown) => {
    if (thrown instanceof Problem) throw thrown;
    const denied = (thrown as NodeJS.ErrnoException).code === 'EACCES';
    throw new Problem(
      'not-running',
      denied
        ? `Only the user who runs Strandward may do this with the data folder ${dataFolder}.`
        : `No Strandward is running on the data folder ${dataFolder}.`,
      denied ? 'Run this command as that user.' : 'Start it first, or name its data folder with --data.',
      { cause: thrown },
    );
  });
  if (!text.endsWith('\n')) {
    throw new Problem(
      'not-running',
      'Strandward gave no answer.',
      'If it has stopped, start it again. If not, read its log. Then repeat this.',
    );
  }
  return JSON.parse(text);
}

/** Something listens, so a service has been started there. */
function unanswered(dataFolder: string): Problem {
  return new Problem(
    'not-running',
    `The Strandward on the data folder ${dataFolder} does not answer: it is blocked, stopped or very busy.`,
    'Wait a minute. If it still does not answer, read its log and start it again.',
  );
}
