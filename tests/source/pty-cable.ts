import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { closeSync, constants, lstatSync, openSync, rmSync } from 'node:fs';
import { until } from './hearer.ts';

/**
 * A cable whose far end is a pseudo-terminal under a link of one's choice, made by socat:
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
    await until(`socat has made ${this.link}`, () => lstatSync(this.link, { throwIfNoEntry: false }) !== undefined);
    // As the far end of a real cable is there without a reader, so somebody must always have the terminal open.
    this.#hold = openSync(this.link, constants.O_RDWR | constants.O_NOCTTY | constants.O_NONBLOCK);
  }

  send(text: string): void {
    this.#socat?.stdin?.write(text);
  }

  /** SIGKILL leaves a dangling link, SIGTERM none. */
  async pullOut(signal: 'SIGKILL' | 'SIGTERM' = 'SIGKILL'): Promise<void> {
    const socat = this.#socat;
    if (socat === null) return;
    this.#socat = null;
    closeSync(this.#hold);
    const gone = once(socat, 'exit');
    socat.kill(signal);
    await gone;
  }
}
