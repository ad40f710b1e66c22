import { type ChildProcess, spawn } from 'node:child_process';
import { constants } from 'node:fs';
import { type FileHandle, lstat, open, stat, unlink } from 'node:fs/promises';
import type { Outlet } from './target.ts';

/** Lines that nobody reads are dropped once this much waits, as on a real serial line. */
const WAITING_BYTES_MAX = 65_536;
const READY_MS_MAX = 5000;

/** Lines to a pseudo-terminal under a path of one's choice, made by Debian's `socat`: a reader opens it as a serial port. */
export class PtyOutlet implements Outlet {
  readonly gone: Promise<Error | undefined>;
  readonly #link: string;
  readonly #waits: boolean;
  #child: ChildProcess | null = null;
  #hold: FileHandle | null = null;
  #tellGone: (reason: Error | undefined) => void = () => {};
  #complaint = '';

  /** @param waits true: no line is lost, the run waits for the reader */
  constructor(link: string, waits: boolean) {
    this.#link = link;
    this.#waits = waits;
    this.gone = new Promise((resolve) => {
      this.#tellGone = resolve;
    });
  }

  async open(): Promise<string> {
    await freePath(this.#link);
    const child = spawn('socat', [`PTY,link=${this.#link},raw,echo=0`, 'STDIO'], { stdio: ['pipe', 'ignore', 'pipe'] });
    this.#child = child;
    child.stderr.on('data', (bytes: Buffer) => {
      this.#complaint = (this.#complaint + bytes.toString('utf8')).slice(-2000);
    });
    // A write after the child's end is answered by its `close`; without a listener it would end the process.
    child.stdin.on('error', () => {});
    const ended = new Promise<Error>((resolve) => {
      child.once('error', (error: NodeJS.ErrnoException) => {
        const missing = error.code === 'ENOENT';
        resolve(missing ? new Error('socat is missing: install it (apt-get install socat).') : error);
      });
      child.once('close', () => {
        const why = this.#complaint.trim() || 'it ended by itself';
        resolve(new Error(`The pseudo-terminal ${this.#link} is gone: ${why}`));
      });
    });
    void ended.then((error) => this.#tellGone(error));
    const failure = await Promise.race([ended, this.#ready()]);
    if (failure !== undefined) {
      await this.close();
      throw failure;
    }
    return `Reading lines at ${this.#link}`;
  }

  /** Waits for the link, and holds the terminal open: without any opener, the first reader that closes would end it. */
  async #ready(): Promise<Error | undefined> {
    const giveUp = performance.now() + READY_MS_MAX;
    while (performance.now() < giveUp) {
      const there = await stat(this.#link).then(
        () => true,
        () => false,
      );
      if (there) {
        this.#hold = await open(this.#link, constants.O_RDWR | constants.O_NOCTTY);
        return undefined;
      }
      await new Promise((resolve) => setTimeout(resolve, 10));
    }
    return new Error(`socat made no pseudo-terminal at ${this.#link} within ${READY_MS_MAX / 1000} s.`);
  }

  async write(chunk: string): Promise<void> {
    const stdin = this.#child?.stdin;
    if (!stdin?.writable) return;
    if (!this.#waits && stdin.writableLength > WAITING_BYTES_MAX) return;
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

/** A link that an earlier run left behind may go; anything else is somebody's. */
async function freePath(path: string): Promise<void> {
  const entry = await lstat(path).catch(() => null);
  if (entry === null) return;
  const alive = await stat(path).then(
    () => true,
    () => false,
  );
  if (!entry.isSymbolicLink() || alive) {
    throw new Error(`${path} exists already: remove it, or give another path after pty:.`);
  }
  await unlink(path);
}

/** socat removes its link itself, unless it was killed. */
async function removeLink(path: string): Promise<void> {
  const entry = await lstat(path).catch(() => null);
  if (!entry?.isSymbolicLink()) return;
  await unlink(path).catch((error: NodeJS.ErrnoException) => {
    if (error.code !== 'ENOENT') throw error;
  });
}
