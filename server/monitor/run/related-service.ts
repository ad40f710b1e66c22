import type { Run } from '../../entities/run.ts';
import type { RelatedReading, SignalSteps } from '../../strand/relation/related-readings.ts';
import type { SpoolAnalyst } from '../analysis/spool-analyst.ts';
import type { SampleReader } from '../ports/samples.ts';
import type { SpoolJudge } from '../spool/spool-judge.ts';
import type { SpoolRepository } from '../spool/spool-repository.ts';

export interface RelatedReadings {
  readonly found: readonly RelatedReading[];
  /** Signals that were compared with the strand. */
  readonly tried: number;
}

const STEPS_MAX = 1024;
/** With fewer, no relation can be shown. */
const STEPS_MIN = 128;
const STEP_MIN_MS = 5000;
/** What measures the strand itself, and counters, which only grow. */
const NOT_COMPARED = new Set(['d', 'dx', 'dy', 'ms', 'us', 'n', 'len', 'turns']);

/** Which signals of a run moved with its strand. Calculated from summaries, on the worker that judges spools. */
export class RelatedService {
  readonly #parts: {
    readonly spools: SpoolRepository;
    readonly judge: SpoolJudge;
    readonly samples: SampleReader;
    readonly analyst: SpoolAnalyst;
  };

  constructor(parts: { spools: SpoolRepository; judge: SpoolJudge; samples: SampleReader; analyst: SpoolAnalyst }) {
    this.#parts = parts;
  }

  async of(run: Run): Promise<RelatedReadings> {
    const { spools, judge, samples, analyst } = this.#parts;
    const extent = await samples.extent(run.id);
    const judged = await Promise.all(spools.ofRun(run).map((woundSpool) => judge.judgeAsWound(woundSpool)));
    const fromMs = Math.min(...judged.map(({ woundSpool }) => woundSpool.spool.startedMs));
    const toMs = Math.max(...judged.map(({ woundSpool }) => woundSpool.spool.endedMs ?? extent?.toMs ?? fromMs));
    const steps = Math.min(STEPS_MAX, Math.floor((toMs - fromMs) / STEP_MIN_MS));
    if (extent === null || !(steps >= STEPS_MIN)) return { found: [], tried: 0 };
    const names = extent.signals.map(({ name }) => name).filter((name) => !NOT_COMPARED.has(name));
    const window = await samples.window({
      runId: run.id,
      axis: 'time',
      from: fromMs,
      to: toMs,
      columns: steps,
      signals: ['d', ...names],
    });
    const means = (name: string) => Float64Array.from(window.signals[name]?.mean ?? [], (value) => value ?? Number.NaN);
    const stepMs = (toMs - fromMs) / steps;
    const bad = new Float64Array(steps);
    for (const { fromTimeMs, toTimeMs, verdict, kind } of judged.flatMap(({ sections }) => sections)) {
      if (verdict === 'good' || kind === 'unknown' || fromTimeMs === null || toTimeMs === null) continue;
      const last = Math.min(steps - 1, Math.floor((toTimeMs - fromMs) / stepMs));
      for (let step = Math.max(0, Math.floor((fromTimeMs - fromMs) / stepMs)); step <= last; step++) {
        const startMs = fromMs + step * stepMs;
        bad[step]! += (Math.min(toTimeMs, startMs + stepMs) - Math.max(fromTimeMs, startMs)) / stepMs;
      }
    }
    const signals: SignalSteps[] = names.map((name) => ({ name, values: means(name) }));
    return { found: await analyst.relate(stepMs, means('d'), bad, signals), tried: signals.length };
  }
}
