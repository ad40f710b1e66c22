import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { closeSync, constants, lstatSync, openSync, rmSync } from 'node:fs';
import { until } from './collecting-listener.ts';

/**
 * A cable made by socat, whose other end is a pseudo-terminal with a link to it:
 *
 *     send() ──stdin──▶ socat ──pty──▶ link ◀── serialport
 */
export class PtyCable {
  readonly link: string;
  #socat: ChildProcess | null = null;
  #hold = -1;

  constructor(link: string) {
    this.link = link;
  }

  async plugIn(): Promise<void> {
    rmSync(this.link, { force: true });
    const socat = spawn('socat', ['-u', 'STDIN', `PTY,raw,echo=0,link=${this.link}`], {
      stdio: ['pipe', 'ignore', 'inherit'],
    });
    socat.stdin?.on('error', () => {});
    this.#socat = socat;
    await until(`socat creates ${this.link}`, () => lstatSync(this.link, { throwIfNoEntry: false }) !== undefined);
    // Unlike a real cable, a pseudo-terminal only exists while it is open, so it is kept open here.
    this.#hold = openSync(this.link, constants.O_RDWR | constants.O_NOCTTY | constants.O_NONBLOCK);
  }

  send(text: string | Uint8Array): void {
    this.#socat?.stdin?.write(text);
  }

  /** SIGKILL leaves a dangling link, SIGTERM does not. */
  async unplug(signal: 'SIGKILL' | 'SIGTERM' = 'SIGKILL'): Promise<void> {
    const socat = this.#socat;
    if (socat === null) return;
    this.#socat = null;
    closeSync(this.#hold);
    const exited = once(socat, 'exit');
    socat.kill(signal);
    await exited;
  }
}
