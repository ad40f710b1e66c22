import { join } from 'node:path';
import { PtyCable } from '../source/pty-cable.ts';
import type { Sketch } from './sketches.ts';

/** A board on a pseudo-terminal that runs a sketch, in real time. */
export class PtyBoard {
  readonly cable: PtyCable;
  #timer: NodeJS.Timeout | undefined;
  #startedMs = 0;
  #printed = 0;

  /** @param folder where the link to the pseudo-terminal is made */
  constructor(folder: string) {
    this.cable = new PtyCable(join(folder, 'board'));
  }

  get source(): string {
    return `serial:${this.cable.link}?baud=115200`;
  }

  async run(sketch: Sketch): Promise<void> {
    clearInterval(this.#timer);
    if (this.#startedMs === 0) await this.cable.plugIn();
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
    await this.cable.unplug();
  }
}
