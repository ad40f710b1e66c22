import { accessSync, constants, mkdirSync, rmSync } from 'node:fs';
import { PtyCable } from '../source/pty-cable.ts';
import type { Sketch } from './sketches.ts';

/** Where the system links serial ports by the names of their makers: only there does the page find one and may choose it. */
const PORTS = '/dev/serial/by-id';

/** Whether a board can be plugged in where the page finds it; root can do that. */
export function canPlugIn(): boolean {
  try {
    accessSync('/dev', constants.W_OK);
    mkdirSync(PORTS, { recursive: true });
    return true;
  } catch {
    return false;
  }
}

/** A name for a board that no other test has plugged in, and the link that the system makes of it. */
export function newPort(maker: string): { readonly title: string; readonly link: string } {
  const serial = `${process.pid}X${++serials}`;
  return { title: `${maker} ${serial}`, link: `${PORTS}/usb-${maker.replaceAll(' ', '_')}_${serial}-if00` };
}
let serials = 0;

/** A board on a pseudo-terminal that runs a sketch, in real time. */
export class PtyBoard {
  readonly cable: PtyCable;
  #timer: NodeJS.Timeout | undefined;
  #isPluggedIn = false;
  #startedMs = 0;
  #printed = 0;

  /** @param link to the pseudo-terminal */
  constructor(link: string) {
    this.cable = new PtyCable(link);
  }

  get source(): string {
    return `serial:${this.cable.link}?baud=115200`;
  }

  /** Plugged in, but silent. */
  async plugIn(): Promise<void> {
    if (!this.#isPluggedIn) await this.cable.plugIn();
    this.#isPluggedIn = true;
  }

  async run(sketch: Pick<Sketch, 'linesPerS' | 'print'>): Promise<void> {
    clearInterval(this.#timer);
    await this.plugIn();
    this.#startedMs = performance.now();
    this.#printed = 0;
    this.#timer = setInterval(() => {
      const due = ((performance.now() - this.#startedMs) / 1000) * sketch.linesPerS;
      for (; this.#printed < due; this.#printed++)
        this.cable.send(sketch.print(this.#printed / sketch.linesPerS, this.#printed));
    }, 500 / sketch.linesPerS);
  }

  /** Seconds since the sketch began to print. */
  get ranS(): number {
    return (performance.now() - this.#startedMs) / 1000;
  }

  async unplug(): Promise<void> {
    clearInterval(this.#timer);
    this.#isPluggedIn = false;
    await this.cable.unplug();
    rmSync(this.cable.link, { force: true });
  }
}
