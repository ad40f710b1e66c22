/**
 * Runs a simulation in time: at a pace (1 = real time, 20 = twenty times as fast) or as fast as its reader accepts it.
 * Only this file and `command/` use a clock.
 */

import type { Simulation } from './simulation.ts';

export interface PaceOptions {
  readonly simulation: Simulation;
  /** Simulated seconds per second, above 0, or `max`. */
  readonly pace: number | 'max';
  /** Simulated time at which the run ends; without it, the run has no end. */
  readonly durationS?: number;
  /** Called with raw text, one character per byte (latin1). If it returns a promise, the run waits until it resolves. */
  readonly onChunk: (chunk: string) => void | Promise<void>;
  /** Called at the end of the duration (undefined) or when `onChunk` fails. Not called after `stop`. */
  readonly onEnd?: (failure: unknown) => void;
}

export interface PacedRun {
  start(): void;
  /** End the run. No chunk follows after it resolves. It may be called twice. */
  stop(): Promise<void>;
}

/** Shortest sleep: timers are not more accurate. */
const SLEEP_MS_MIN = 4;
/** A run that is further behind, as one whose process was stopped, continues from there instead of catching up; simulated time. */
const BEHIND_S_MAX = 120;
const CHUNK_BYTES_MAX = 65_536;
/** Sample times are rounded to the strand's steps of 5 ms. */
const ROUNDING_S = 0.003;

export function createPacedRun(options: PaceOptions): PacedRun {
  const { simulation, pace, durationS = Number.POSITIVE_INFINITY } = options;
  const stopping = new AbortController();
  let running: Promise<void> | null = null;

  const pitchS = 1 / simulation.rateHz;
  const isDue = (atS: number) => simulation.timeS + pitchS <= atS + ROUNDING_S;

  /** Step up to a simulated time, or until the chunk is full. */
  function nextChunk(untilS: number): string {
    let chunk = '';
    while (isDue(untilS) && chunk.length < CHUNK_BYTES_MAX) chunk += simulation.step();
    return chunk;
  }

  async function sendAll(): Promise<void> {
    while (!stopping.signal.aborted) {
      const chunk = nextChunk(durationS);
      if (chunk === '') return;
      await options.onChunk(chunk);
      // Let the rest of the process run, even if the reader always keeps up.
      await new Promise((resolve) => setImmediate(resolve));
    }
  }

  async function sendInTime(speed: number): Promise<void> {
    let startMs = performance.now() - (simulation.timeS * 1000) / speed;
    while (!stopping.signal.aborted && isDue(durationS)) {
      const behindS = ((performance.now() - startMs) / 1000) * speed - simulation.timeS;
      if (behindS > BEHIND_S_MAX) startMs += (behindS / speed) * 1000;
      const dueS = simulation.timeS + (behindS > BEHIND_S_MAX ? 0 : behindS);
      const chunk = nextChunk(Math.min(dueS, durationS));
      if (chunk !== '') await options.onChunk(chunk);
      const nextMs = startMs + ((simulation.timeS + pitchS) * 1000) / speed;
      await sleep(Math.max(SLEEP_MS_MIN, nextMs - performance.now()), stopping.signal);
    }
  }

  async function run(): Promise<void> {
    try {
      await (pace === 'max' ? sendAll() : sendInTime(pace));
    } catch (failure) {
      if (!stopping.signal.aborted) options.onEnd?.(failure);
      return;
    }
    if (!stopping.signal.aborted) options.onEnd?.(undefined);
  }

  return {
    start() {
      running ??= run();
    },
    async stop() {
      stopping.abort();
      await running;
    },
  };
}

function sleep(ms: number, signal: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    if (signal.aborted) return resolve();
    const done = () => {
      clearTimeout(timer);
      signal.removeEventListener('abort', done);
      resolve();
    };
    const timer = setTimeout(done, ms);
    signal.addEventListener('abort', done);
  });
}
