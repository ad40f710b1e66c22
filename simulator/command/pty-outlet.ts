import { type ChildProcess, spawn } from 'node:child_process';
import { constants } from 'node:fs';
import { type FileHandle, lstat, open, stat, unlink } from 'node:fs/promises';
import type { Outlet } from './target.ts';

/** If more bytes than this are unread, further lines are dropped, as on a real serial line. */
const UNREAD_BYTES_MAX = 65_536;
const READY_MS_MAX = 5000;

/** Sends lines to a pseudo-terminal made by `socat`, which a reader opens as a serial port through a link. */
export class PtyOutlet implements Outlet {
  readonly ended: Promise<Error | undefined>;
  readonly #link: string;
  readonly #waits: boolean;
  #child: ChildProcess | null = null;
  #hold: FileHandle | null = null;
  #resolveEnded: (reason: Error | undefined) => void = () => {};
  #errorOutput = '';

  /** @param waits true = the run waits for the reader, so that no line is lost */
  constructor(link: string, waits: boolean) {
    this.#link = link;
    this.#waits = waits;
    this.ended = new Promise((resolve) => {
      this.#resolveEnded = resolve;
    });
  }

  async open(): Promise<string> {
    await freePath(this.#link);
    const child = spawn('socat', [`PTY,link=${this.#link},raw,echo=0`, 'STDIO'], { stdio: ['pipe', 'ignore', 'pipe'] });
    this.#child = child;
    child.stderr.on('data', (bytes: Buffer) => {
      this.#errorOutput = (this.#errorOutput + bytes.toString('utf8')).slice(-2000);
    });
    // A write after the child's end emits an error, which would end the process without a listener.
    child.stdin.on('error', () => {});
    const childEnded = new Promise<Error>((resolve) => {
      child.once('error', (error: NodeJS.ErrnoException) => {
        const missing = error.code === 'ENOENT';
        resolve(missing ? new Error('socat is not installed. Install it with: apt-get install socat') : error);
      });
      child.once('close', () => {
        const reason = this.#errorOutput.trim() || 'socat has ended';
        resolve(new Error(`The pseudo-terminal ${this.#link} was closed: ${reason}`));
      });
    });
    void childEnded.then((error) => this.#resolveEnded(error));
    const failure = await Promise.race([childEnded, this.#ready()]);
    if (failure !== undefined) {
      await this.close();
      throw failure;
    }
    return `Reading lines at ${this.#link}`;
  }

  /** Wait for the link and keep the terminal open, because it would end when its last reader closes it. */
  async #ready(): Promise<Error | undefined> {
    const deadline = performance.now() + READY_MS_MAX;
    while (performance.now() < deadline) {
      const exists = await stat(this.#link).then(
        () => true,
        () => false,
      );
      if (exists) {
        this.#hold = await open(this.#link, constants.O_RDWR | constants.O_NOCTTY);
        return undefined;
      }
      await new Promise((resolve) => setTimeout(resolve, 10));
    }
    return new Error(`socat did not create the pseudo-terminal ${this.#link} within ${READY_MS_MAX / 1000} s.`);
  }

  async write(chunk: string): Promise<void> {
    const stdin = this.#child?.stdin;
    if (!stdin?.writable) return;
    if (!this.#waits && stdin.writableLength > UNREAD_BYTES_MAX) return;
    const bytes = Buffer.from(chunk, 'latin1');
    if (!this.#waits) stdin.write(bytes);
    else await new Promise<void>((resolve) => stdin.write(bytes, () => resolve()));
  }

  async close(): Promise<void> {
    const child = this.#child;
    this.#child = null;
    if (child !== null && child.exitCode === null && child.signalCode === null && child.pid !== undefined) {
      const closed = new Promise((resolve) => child.once('close', resolve));
      child.stdin?.destroy();
      child.kill('SIGTERM');
      await closed;
    }
    await this.#hold?.close();
    this.#hold = null;
    await removeLink(this.#link);
  }
}

/** Remove the dangling link of an earlier run, but nothing else. */
async function freePath(path: string): Promise<void> {
  const entry = await lstat(path).catch(() => null);
  if (entry === null) return;
  const isInUse = await stat(path).then(
    () => true,
    () => false,
  );
  if (!entry.isSymbolicLink() || isInUse) {
    throw new Error(`${path} already exists. Remove it, or choose another path after pty:.`);
  }
  await unlink(path);
}

/** socat removes its link unless it was killed. */
async function removeLink(path: string): Promise<void> {
  const entry = await lstat(path).catch(() => null);
  if (!entry?.isSymbolicLink()) return;
  await unlink(path).catch((error: NodeJS.ErrnoException) => {
    if (error.code !== 'ENOENT') throw error;
  });
}
