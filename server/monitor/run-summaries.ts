import { callsForSomebody } from '../alarm/life-cycle.ts';
import { Problem } from '../problem/problem.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import type { Preparation } from '../strand/side-by-side/preparation.ts';
import type { RunFigures } from '../strand/side-by-side/run-value.ts';
import { type DiameterTally, mergeTallies } from '../strand/statistics/diameter-tally.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import type { SummedSpool } from './analysis/spool-analysis.ts';
import type { SpoolCase } from './analysis/spool-case.ts';
import { columnsFor, summedFromSummaries } from './analysis/summed-from-summaries.ts';
import { lineWhileWound } from './line-while-wound.ts';
import type { Printer, RecordReader, Run, SampleReader, Spool } from './ports.ts';
import { runSettingsNow, settingsOf } from './run-settings.ts';
import type { SpoolAnalyst } from './spool-analyst.ts';

/** A run summed up over all its spools. */
export interface RunSummary {
  readonly run: Run;
  readonly figures: RunFigures;
  readonly preparation: Preparation;
  /** Null where nothing was wound. */
  readonly limits: StrandLimits | null;
  readonly woundMm: number;
  readonly coils: number;
  /** Length of strand by diameter; null = the single readings were let go. */
  readonly tally: DiameterTally | null;
}

/** Summaries that are kept in memory; one of a long run takes some 200 kB. */
const REMEMBERED = 100;

/**
 * Sums up runs, to lay them beside each other. Readings are looked at on the thread that judges spools, once: what comes of
 * it is remembered while nothing that it rests on changes.
 */
export class RunSummaries {
  readonly #parts: {
    readonly analyst: SpoolAnalyst;
    readonly reader: RecordReader;
    readonly samples: SampleReader;
    settings(): LineSettings;
  };
  readonly #spools = new Map<string, SummedSpool>();

  constructor(parts: { analyst: SpoolAnalyst; reader: RecordReader; samples: SampleReader; settings(): LineSettings }) {
    this.#parts = parts;
  }

  /** @throws Problem bad-request for a printer whose limits cannot be */
  async of(run: Run, printer: Printer, nowMs: number): Promise<RunSummary> {
    const { reader, analyst, samples } = this.#parts;
    const wound = reader
      .spools(run.id)
      .map((spool) => ({ spool, about: analyst.caseOf(spool, printer) }))
      .filter(({ about }) => Math.round((about.endGaugeMm - about.startGaugeMm) * about.lengthFactor) > 0);
    const summed: SummedSpool[] = [];
    for (const { spool, about } of wound) summed.push(await this.#summed(run, spool, about, printer));
    const line = await lineWhileWound(
      samples,
      run.id,
      wound.map(({ spool, about }) => this.#spanAtGauge(spool, about)),
    );
    const limits = wound[0]?.about.limits ?? null;
    const endMs = run.endedMs ?? nowMs;
    const { setpointsC, heatSdK, speedMmPerS, screwTurnsPerMin } = line;
    return {
      run,
      limits,
      woundMm: sumOf(summed, ({ woundMm }) => woundMm),
      coils: sumOf(summed, ({ coils }) => coils),
      preparation: { lot: run.lot, setpointsC, speedMmPerS, screwTurnsPerMin },
      tally: tallyOf(summed),
      figures: {
        runId: run.id,
        nominalMm: limits?.nominalMm ?? Number.NaN,
        stretches: summed.flatMap(({ stretches }) => stretches),
        keptMm: sumOf(summed, ({ keptMm }) => keptMm),
        longestCoilMm: Math.max(0, ...summed.map(({ longestCoilMm }) => longestCoilMm)),
        heat: unsteadiest(heatSdK),
        alarms: {
          callsAt: reader
            .alarmJournal(run.id)
            .filter((step) => callsForSomebody(step) && step.timeMs >= run.startedMs && step.timeMs <= endMs)
            .map(({ timeMs }) => (timeMs - run.startedMs) / (endMs - run.startedMs)),
          hours: (endMs - run.startedMs) / 3_600_000,
        },
      },
    };
  }

  async #summed(run: Run, spool: Spool, about: SpoolCase, printer: Printer): Promise<SummedSpool> {
    // Of a run that goes on, the last second of a spool that ended just now may not be written yet.
    if (run.endedMs === null) return this.#sumUp(spool, about, printer);
    const { startGaugeMm, endGaugeMm, limits, lengthFactor, lengthShare, shortestCoilMm, stated } = about;
    const place = [spool.id, startGaugeMm, endGaugeMm];
    const key = JSON.stringify([place, limits, lengthFactor, lengthShare, shortestCoilMm, stated]);
    const known = this.#spools.get(key);
    if (known !== undefined) return known;
    const summed = await this.#sumUp(spool, about, printer);
    this.#spools.set(key, summed);
    if (this.#spools.size > REMEMBERED) this.#spools.delete(this.#spools.keys().next().value!);
    return summed;
  }

  async #sumUp(spool: Spool, about: SpoolCase, printer: Printer): Promise<SummedSpool> {
    try {
      return await this.#parts.analyst.ask(spool, printer, 'summed', {});
    } catch (thrown) {
      if (!(thrown instanceof Problem) || thrown.code !== 'readings-thinned') throw thrown;
    }
    const window = await this.#parts.samples.window({
      runId: spool.runId,
      axis: 'length',
      from: about.startGaugeMm,
      to: about.endGaugeMm,
      columns: columnsFor(about),
      channels: ['d'],
    });
    return summedFromSummaries(about, window);
  }

  /** What is at the winder passed the gauge one path before. */
  #spanAtGauge(spool: Spool, { startGaugeMm, endGaugeMm }: SpoolCase): { fromMm: number; toMm: number } {
    const { reader } = this.#parts;
    const now = runSettingsNow(this.#parts.settings(), 0);
    const { gaugeToWinderMm } = settingsOf(spool, endGaugeMm, reader.runSettings(spool.runId), now);
    return { fromMm: startGaugeMm + gaugeToWinderMm, toMm: endGaugeMm + gaugeToWinderMm };
  }
}

function unsteadiest(sdK: readonly (number | null)[]): RunFigures['heat'] {
  const known = sdK.flatMap((sd, i) => (sd === null ? [] : [{ zone: i + 1, sdK: sd }]));
  return known.length === 0 ? null : known.reduce((worst, one) => (one.sdK > worst.sdK ? one : worst));
}

function tallyOf(summed: readonly SummedSpool[]): DiameterTally | null {
  const all = summed.flatMap(({ tally }) => (tally === null ? [] : [tally]));
  return all.length === 0 || all.length < summed.length ? null : mergeTallies(all);
}

function sumOf<T>(some: readonly T[], of: (one: T) => number): number {
  return some.reduce((sum, one) => sum + of(one), 0);
}
