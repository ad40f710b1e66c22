import { Problem } from '../problem/problem.ts';

/** How far the readings have come, in counts that only matter by how they change. */
export interface PipelineProgress {
  /** Reading lines that the source has delivered, and how many of them have gone all the way to the listeners. */
  readonly arrivedLines: number;
  readonly passedLines: number;
  /** How often the work of each second was done: pending writes, checks of the link. */
  readonly secondsDone: number;
}

/** Longer without a line means that none come. */
const LINES_COME_MS = 10_000;
/** A pause between two checks that only a suspended or blocked process makes. */
const PROCESS_STOOD_MS = 10_000;
const CHECK_EVERY_MS = 1000;
const STANDS_AT_MOST_MS = 60_000;

/** Notices that the pipeline stands although lines come: a bug of ours that only a restart helps against. */
export class PipelineWatch {
  #before: PipelineProgress = { arrivedLines: 0, passedLines: 0, secondsDone: 0 };
  #checkedMs = Number.NEGATIVE_INFINITY;
  #arrivedMs = Number.NEGATIVE_INFINITY;
  #passedMs = 0;
  #workedMs = 0;
  #timer: NodeJS.Timeout | undefined;

  /** How long it stood at the last check, ms; 0 = it moves, or no lines come. */
  get standsForMs(): number {
    return Math.max(0, this.#checkedMs - Math.min(this.#passedMs, this.#workedMs));
  }

  /** Checks every second. Once the pipeline has stood for a minute, it reports that and checks no more. */
  start(progress: () => PipelineProgress, stalled: (problem: Problem) => void): void {
    this.#timer = setInterval(() => {
      this.check(performance.now(), progress());
      if (this.standsForMs < STANDS_AT_MOST_MS) return;
      this.stop();
      stalled(stalledProblem());
    }, CHECK_EVERY_MS);
  }

  stop(): void {
    clearInterval(this.#timer);
  }

  /**
   * Call once a second.
   * @param nowMs of a clock that never steps
   */
  check(nowMs: number, progress: PipelineProgress): void {
    const before = this.#before;
    const { arrivedLines, passedLines, secondsDone } = progress;
    if (arrivedLines !== before.arrivedLines) this.#arrivedMs = nowMs;
    const startOver = nowMs - this.#checkedMs > PROCESS_STOOD_MS || nowMs - this.#arrivedMs > LINES_COME_MS;
    // A new link starts to count at 0, so any change is progress.
    if (startOver || passedLines !== before.passedLines || passedLines === arrivedLines) this.#passedMs = nowMs;
    if (startOver || secondsDone !== before.secondsDone) this.#workedMs = nowMs;
    this.#before = progress;
    this.#checkedMs = nowMs;
  }
}

function stalledProblem(): Problem {
  return new Problem(
    'watching-stalled',
    `Reading lines arrive, but for ${STANDS_AT_MOST_MS / 1000} s none has been processed, so Strandward stops.`,
    'Start it again. A process supervisor such as systemd does that. Please report this bug with the log.',
  );
}
