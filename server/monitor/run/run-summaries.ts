import { alertsPeople } from '../../alarm/life-cycle.ts';
import type { Printer } from '../../entities/printer.ts';
import type { Run } from '../../entities/run.ts';
import { Problem } from '../../problem/problem.ts';
import type { Preparation } from '../../strand/comparison/preparation.ts';
import type { RunFigures } from '../../strand/comparison/run-value.ts';
import { type Defects, emptyStretches, type StretchSums, stretchesOn } from '../../strand/comparison/stretch-sums.ts';
import type { Section } from '../../strand/section.ts';
import { type DiameterTally, mergeTallies } from '../../strand/statistics/diameter-tally.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import { BoundedCache } from '../bounded-cache.ts';
import type { RecordReader } from '../ports/record.ts';
import type { SampleReader } from '../ports/samples.ts';
import type { Judgement } from '../spool/judgement.ts';
import type { SpoolJudge } from '../spool/spool-judge.ts';
import type { SpoolRepository } from '../spool/spool-repository.ts';
import { gaugeSpanWhileWound, positionMm, type WoundSpool } from '../spool/wound-spool.ts';
import { processWhileWinding } from './process-while-winding.ts';

/** A summary of a run over all its spools. */
export interface RunSummary {
  readonly run: Run;
  readonly figures: RunFigures;
  readonly preparation: Preparation;
  /** null = nothing was wound. */
  readonly limits: StrandLimits | null;
  readonly woundMm: number;
  readonly coils: number;
  /** Length of strand by diameter; null = single readings were deleted. */
  readonly tally: DiameterTally | null;
}

/** `tally`: null = single readings were deleted. */
interface SpoolSummary {
  readonly stretches: readonly StretchSums[];
  readonly tally: DiameterTally | null;
}

/** A summary of a long run takes about 200 kB. */
const CACHED_MAX = 100;

/**
 * Summarises runs for comparison. Readings are evaluated once, on the thread that judges spools, and the result is cached
 * until its inputs change. Kept length is what the plan of each spool keeps.
 */
export class RunSummaries {
  readonly #parts: {
    readonly spools: SpoolRepository;
    readonly judge: SpoolJudge;
    readonly reader: RecordReader;
    readonly samples: SampleReader;
  };
  readonly #cache = new BoundedCache<SpoolSummary>(CACHED_MAX);

  constructor(parts: { spools: SpoolRepository; judge: SpoolJudge; reader: RecordReader; samples: SampleReader }) {
    this.#parts = parts;
  }

  /** @throws Problem `bad-printer` for a printer with impossible limits */
  async of(run: Run, printer: Printer, nowMs: number): Promise<RunSummary> {
    const { reader, spools, judge, samples } = this.#parts;
    const judgements: Judgement[] = [];
    for (const woundSpool of spools.ofRun(run)) {
      const judgement = await judge.judgeFor(woundSpool, printer);
      if (judgement.plan !== null) judgements.push(judgement);
    }
    const summaries: SpoolSummary[] = [];
    for (const judgement of judgements) summaries.push(await this.#cachedSummary(judgement));
    const process = await processWhileWinding(
      samples,
      run.id,
      judgements.map(({ woundSpool }) => gaugeSpanWhileWound(woundSpool)),
    );
    const limits = judgements[0]?.limits ?? null;
    const endMs = run.endedMs ?? nowMs;
    const { setpointsC, heatSdK, speedMmPerS, screwTurnsPerMin } = process;
    return {
      run,
      limits,
      woundMm: sumOf(judgements, ({ woundMm }) => woundMm),
      coils: sumOf(judgements, ({ kept }) => kept?.coils ?? 0),
      preparation: { lot: run.lot, setpointsC, speedMmPerS, screwTurnsPerMin },
      tally: mergedTally(summaries),
      figures: {
        nominalMm: limits?.nominalMm ?? Number.NaN,
        stretches: summaries.flatMap(({ stretches }) => stretches),
        keptMm: sumOf(judgements, ({ kept }) => kept?.keptMm ?? 0),
        longestCoilMm: Math.max(0, ...judgements.map(({ kept }) => kept?.longestCoilMm ?? 0)),
        heat: leastSteadyZone(heatSdK),
        alarms: {
          callsAt: reader
            .alarmJournal(run.id)
            .filter((step) => alertsPeople(step) && step.timeMs >= run.startedMs && step.timeMs <= endMs)
            .map(({ timeMs }) => (timeMs - run.startedMs) / (endMs - run.startedMs)),
          hours: (endMs - run.startedMs) / 3_600_000,
        },
      },
    };
  }

  async #cachedSummary(judgement: Judgement): Promise<SpoolSummary> {
    const { woundSpool, limits, woundMm } = judgement;
    const defects = defectsOnSpool(judgement.sections, woundSpool);
    // While the run continues, the last second of a spool that has just ended may not be stored yet.
    if (woundSpool.run.endedMs === null) return this.#summarise(judgement, defects);
    const key = JSON.stringify([
      woundSpool.spool.id,
      woundSpool.startGaugeMm,
      woundSpool.endGaugeMm,
      woundSpool.cutOuts,
      woundMm,
      limits,
      defects,
    ]);
    const cached = this.#cache.get(key);
    if (cached !== undefined) return cached;
    const summary = await this.#summarise(judgement, defects);
    this.#cache.set(key, summary);
    return summary;
  }

  async #summarise(judgement: Judgement, defects: Defects): Promise<SpoolSummary> {
    try {
      return await this.#parts.judge.ask(judgement, 'stretches', { woundMm: judgement.woundMm, defects });
    } catch (thrown) {
      if (!(thrown instanceof Problem) || thrown.code !== 'readings-thinned') throw thrown;
      return { stretches: await this.#stretchesFromSummaries(judgement, defects), tally: null };
    }
  }

  /**
   * Stretches of a spool whose single readings were deleted. Summaries still hold the means, but not how readings spread
   * about them.
   */
  async #stretchesFromSummaries(
    { woundSpool, limits, woundMm }: Judgement,
    defects: Defects,
  ): Promise<readonly StretchSums[]> {
    const { startGaugeMm, endGaugeMm } = woundSpool;
    const { count, signals } = await this.#parts.samples.window({
      runId: woundSpool.run.id,
      axis: 'length',
      from: startGaugeMm,
      to: endGaugeMm,
      columns: stretchesOn(endGaugeMm - startGaugeMm),
      signals: ['d'],
    });
    const { nominalMm, strandPresentMm } = limits;
    const { d } = signals;
    // A group of readings is never divided, so some columns hold more than their share and some hold none.
    const readings = count.reduce((sum, n) => sum + n, 0);
    return emptyStretches(woundMm, defects, count.length).map((sums, i) => {
      const share = (count[i] ?? 0) / readings;
      const [mean, least] = [d?.mean[i] ?? null, d?.min[i] ?? null];
      const unknown = { squareMm3: Number.NaN, withinMm: Number.NaN, rangeSumMm: Number.NaN, ovalMm2: Number.NaN };
      // A mean that includes readings without strand says nothing about the stretch.
      if (mean === null || least === null || least < strandPresentMm) return { ...sums, ...unknown };
      const measuredMm = woundMm * share;
      return { ...sums, ...unknown, measuredMm, offMm2: measuredMm * (mean - nominalMm) };
    });
  }
}

/**
 * Stretches of a spool to discard, and where its blobs and thin spots start. Those that a user judged good are left out. A
 * section that statements divide is counted in the part with its peak.
 */
function defectsOnSpool(sections: readonly Section[], woundSpool: WoundSpool): Defects {
  const trueMm = (gaugeMm: number) => positionMm(woundSpool, gaugeMm);
  const here = sections.filter(({ fromMm, toMm }) => toMm > woundSpool.startGaugeMm && fromMm < woundSpool.endGaugeMm);
  return {
    discards: here
      .filter(({ verdict }) => verdict === 'discard')
      .map(({ fromMm, toMm }) => ({ fromMm: trueMm(fromMm), toMm: trueMm(toMm) })),
    lumpsAtMm: here
      .filter(({ kind, verdict, peakAtMm }) => isLump(kind) && verdict !== 'good' && peakAtMm !== null)
      .map(({ fromMm }) => trueMm(fromMm)),
  };
}

function isLump(kind: Section['kind']): boolean {
  return kind === 'blob' || kind === 'neck';
}

function leastSteadyZone(sdK: readonly (number | null)[]): RunFigures['heat'] {
  const known = sdK.flatMap((sd, i) => (sd === null ? [] : [{ zone: i + 1, sdK: sd }]));
  return known.length === 0 ? null : known.reduce((worst, one) => (one.sdK > worst.sdK ? one : worst));
}

function mergedTally(summaries: readonly SpoolSummary[]): DiameterTally | null {
  const all = summaries.flatMap(({ tally }) => (tally === null ? [] : [tally]));
  return all.length === 0 || all.length < summaries.length ? null : mergeTallies(all);
}

function sumOf<T>(some: readonly T[], of: (one: T) => number): number {
  return some.reduce((sum, one) => sum + of(one), 0);
}
