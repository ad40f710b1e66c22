/**
 * Runs a simulation in time: at a pace (1 = as on a real line, 20 = twenty times as fast) or as fast as its reader takes
 * it. This and `command/` are the only places of the simulator that know a clock.
 */

import type { Simulation } from './simulation.ts';

export interface PaceOptions {
  readonly simulation: Simulation;
  /** Simulated seconds a second, above 0, or `max`. */
  readonly pace: number | 'max';
  /** Ends the run at that simulated time; without it the run has no end. */
  readonly durationS?: number;
  /** Gets raw text, one character a byte (latin1). If it gives a promise, nothing more comes until that is kept. */
  readonly onChunk: (chunk: string) => void | Promise<void>;
  /** The run is over: by its duration (undefined) or because `onChunk` failed. Not called after `stop`. */
  readonly onEnd?: (failure: unknown) => void;
}

export interface PacedRun {
  start(): void;
  /** Ends the run; no chunk follows once this is kept. May be called twice. */
  stop(): Promise<void>;
}

/** Shorter sleeps than this are left to gather: a timer is no finer. */
const SLEEP_MS_MIN = 4;
/** A run that fell this far behind, as on a suspended machine, goes on from there and does not pour out the lot. */
const BEHIND_S_MAX = 2;
const CHUNK_BYTES_MAX = 65_536;
/** Sample times are rounded to the strand's steps of 5 ms. */
const ROUNDING_S = 0.003;

export function createPacedRun(options: PaceOptions): PacedRun {
  const { simulation, pace, durationS = Number.POSITIVE_INFINITY } = options;
  const stopping = new AbortController();
  let running: Promise<void> | null = null;

  const pitchS = 1 / simulation.rateHz;
  const isDue = (atS: number) => simulation.timeS + pitchS <= atS + ROUNDING_S;

  /** Steps up to a simulated time, at most to a chunk's size. */
  function gather(untilS: number): string {
    let chunk = '';
    while (isDue(untilS) && chunk.length < CHUNK_BYTES_MAX) chunk += simulation.step();
    return chunk;
  }

  async function asFastAsRead(): Promise<void> {
    while (!stopping.signal.aborted) {
      const chunk = gather(durationS);
      if (chunk === '') return;
      await options.onChunk(chunk);
      // Also where the reader always keeps up, the rest of the process must get its turn.
      await new Promise((resolve) => setImmediate(resolve));
    }
  }

  async function inTime(speed: number): Promise<void> {
    let startMs = performance.now() - (simulation.timeS * 1000) / speed;
    while (!stopping.signal.aborted && isDue(durationS)) {
      const dueS = ((performance.now() - startMs) / 1000) * speed;
      if (dueS - simulation.timeS > BEHIND_S_MAX * speed) startMs += ((dueS - simulation.timeS) / speed) * 1000;
      const chunk = gather(Math.min(dueS, durationS));
      if (chunk !== '') await options.onChunk(chunk);
      const nextMs = startMs + ((simulation.timeS + pitchS) * 1000) / speed;
      await sleep(Math.max(SLEEP_MS_MIN, nextMs - performance.now()), stopping.signal);
    }
  }

  async function run(): Promise<void> {
    try {
      await (pace === 'max' ? asFastAsRead() : inTime(pace));
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
