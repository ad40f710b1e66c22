import { readFileSync } from 'node:fs';
import { Chooser, seedOf } from './chooser.ts';

/** What is fuzzed: makes inputs, and tries them. An input is JSON, so that it can be kept as a case. */
export interface FuzzTarget<Input = unknown> {
  readonly name: string;
  /** What `attempt` counts: `lines`, `requests`. */
  readonly unit: string;
  /** How many cases `npm test` tries: about a second's worth. */
  readonly casesInTest: number;
  /** How long an input may block the event loop, ms; left out = as long as anything the service does while it runs. */
  readonly blockedMaxMs?: number;
  open(): Promise<OpenTarget<Input>>;
}

interface OpenTarget<Input = unknown> {
  make(choose: Chooser): Input;
  /**
   * Tries one input.
   * @returns how many units it was
   * @throws if the service breaks a promise
   */
  attempt(input: Input): Promise<number>;
  close(): Promise<void>;
}

export interface Finding {
  readonly seed: number;
  readonly index: number;
  readonly what: string;
  readonly input: unknown;
}

export interface FuzzReport {
  readonly cases: number;
  readonly units: number;
  readonly seconds: number;
  /** How long an input blocked the event loop, ms: the longest. */
  readonly longestMs: number;
  readonly rssMb: number;
  readonly findings: readonly Finding[];
}

export interface FuzzLimits {
  readonly cases?: number;
  readonly seconds?: number;
  /** How long an input may block the event loop; left out = not limited, because unbuilt workers run on this thread. */
  readonly blockedMaxMs?: number;
  /** Resident memory of this process; left out = not limited, because other tests share the process. */
  readonly rssMaxMb?: number;
  readonly findingsMax?: number;
  readonly started?: (index: number, units: number) => void;
  /** Called before the target is closed. */
  readonly closing?: () => void;
}

/** Longer than this, a page would stutter and an alarm would be late. */
export const BLOCKED_MAX_MS = 100;
/** On a busy machine one measurement says little: an input is slow if it is slow each time. */
const TIMES_SLOW = 4;
/** Between two turns of the event loop that are measured. */
const TURN_MS = 5;
/** The main thread has the number of its process. */
const THREAD = `/proc/self/task/${process.pid}/schedstat`;

/** Tries inputs until the number of cases or the time is used up. The same seed tries the same inputs. */
export async function fuzz(target: FuzzTarget, seed: number, limits: FuzzLimits): Promise<FuzzReport> {
  const { cases = Number.POSITIVE_INFINITY, seconds = Number.POSITIVE_INFINITY, findingsMax = 5 } = limits;
  const { blockedMaxMs = Number.POSITIVE_INFINITY } = limits;
  const findings: Finding[] = [];
  const stray: string[] = [];
  const unwatch = watchStrayErrors((what) => stray.push(what));
  const began = performance.now();
  const elapsedS = () => (performance.now() - began) / 1000;
  let [units, index, longestMs, rssMb] = [0, 0, 0, 0];
  const open = await target.open();
  try {
    for (; index < cases && elapsedS() < seconds && findings.length < findingsMax; index++) {
      limits.started?.(index, units);
      const input = open.make(new Chooser(seedOf(seed, index)));
      const find = (what: string) => findings.push({ seed, index, what, input });
      try {
        const outcome = await measured(open, input, blockedMaxMs);
        units += outcome.units;
        longestMs = Math.max(longestMs, outcome.blockedMs);
        if (outcome.blockedMs > blockedMaxMs) find(`It blocked the service for ${Math.round(outcome.blockedMs)} ms.`);
      } catch (thrown) {
        find(thrown instanceof Error ? (thrown.stack ?? thrown.message) : String(thrown));
      }
      for (const what of stray.splice(0)) find(`Not caught by anyone: ${what}`);
      rssMb = Math.max(rssMb, process.memoryUsage.rss() / 1e6);
      if (rssMb > (limits.rssMaxMb ?? Number.POSITIVE_INFINITY)) {
        find(`The process takes ${Math.round(rssMb)} MB.`);
        break;
      }
    }
  } finally {
    limits.closing?.();
    await open.close();
    unwatch();
  }
  return { cases: index, units, seconds: elapsedS(), longestMs, rssMb, findings };
}

/** Tries one input, again if it seems slow. Every limit holds for each input, so the shortest time counts. */
async function measured(
  open: OpenTarget,
  input: unknown,
  blockedMaxMs: number,
): Promise<{ units: number; blockedMs: number }> {
  let blockedMs = Number.POSITIVE_INFINITY;
  let units = 0;
  for (let time = 0; time === 0 || (time < TIMES_SLOW && blockedMs > blockedMaxMs); time++) {
    let longestMs = 0;
    let beforeMs = workedMs();
    const turn = () => {
      const nowMs = workedMs();
      longestMs = Math.max(longestMs, nowMs - beforeMs);
      beforeMs = nowMs;
    };
    const timer = setInterval(turn, TURN_MS);
    try {
      units += await open.attempt(input);
    } finally {
      clearInterval(timer);
    }
    turn();
    blockedMs = Math.min(blockedMs, longestMs);
  }
  return { units, blockedMs };
}

/**
 * Processor time of this thread, ms. On a busy machine much more time passes, in which other programs have the processor.
 * Elsewhere than on Linux: of all threads of this process.
 */
function workedMs(): number {
  if (process.platform === 'linux') return Number(readFileSync(THREAD, 'latin1').split(' ')[0]) / 1e6;
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
}

function watchStrayErrors(report: (what: string) => void): () => void {
  const heard = (thrown: unknown) => report(thrown instanceof Error ? (thrown.stack ?? '') : String(thrown));
  process.on('unhandledRejection', heard);
  process.on('uncaughtException', heard);
  return () => {
    process.off('unhandledRejection', heard);
    process.off('uncaughtException', heard);
  };
}
