import { alertsPeople } from '../alarm/life-cycle.ts';
import type { Printer } from '../entities/printer.ts';
import type { Run } from '../entities/run.ts';
import { Problem } from '../problem/problem.ts';
import type { Preparation } from '../strand/comparison/preparation.ts';
import type { RunFigures } from '../strand/comparison/run-value.ts';
import { type Defects, emptyStretches, STRETCH_MM, type StretchSums } from '../strand/comparison/stretch-sums.ts';
import { type DiameterTally, mergeTallies } from '../strand/statistics/diameter-tally.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import { lineWhileWound } from './line-while-wound.ts';
import type { RecordReader } from './ports/record.ts';
import type { SampleReader } from './ports/samples.ts';
import type { Judgement } from './spool/judgement.ts';
import { spoiltOnSpool } from './spool/spoilt-on-spool.ts';
import type { SpoolJudge } from './spool/spool-judge.ts';
import type { SpoolRepository } from './spool/spool-repository.ts';
import { gaugeSpanWhileWound } from './spool/wound-spool.ts';

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

/** A spool in stretches. The tally is null where single readings are not at hand. */
interface SummedSpool {
  readonly stretches: readonly StretchSums[];
  readonly tally: DiameterTally | null;
}

const COLUMNS_MAX = 4000;
/** Summaries that are kept in memory; one of a long run takes some 200 kB. */
const REMEMBERED = 100;

/**
 * Sums up runs, to compare them. Readings are looked at on the thread that judges spools, once: what comes of it is
 * remembered while nothing that it rests on changes. What is kept is what the plan of each spool keeps.
 */
export class RunSummaries {
  readonly #parts: {
    readonly spools: SpoolRepository;
    readonly judge: SpoolJudge;
    readonly reader: RecordReader;
    readonly samples: SampleReader;
  };
  readonly #spools = new Map<string, SummedSpool>();

  constructor(parts: { spools: SpoolRepository; judge: SpoolJudge; reader: RecordReader; samples: SampleReader }) {
    this.#parts = parts;
  }

  /** @throws Problem `bad-printer` for a printer whose limits cannot be */
  async of(run: Run, printer: Printer, nowMs: number): Promise<RunSummary> {
    const { reader, spools, judge, samples } = this.#parts;
    const wound: Judgement[] = [];
    for (const on of spools.ofRun(run)) {
      const judged = await judge.judgeFor(on, printer);
      if (judged.plan !== null) wound.push(judged);
    }
    const summed: SummedSpool[] = [];
    for (const judged of wound) summed.push(await this.#summed(judged));
    const line = await lineWhileWound(
      samples,
      run.id,
      wound.map(({ on }) => gaugeSpanWhileWound(on)),
    );
    const limits = wound[0]?.limits ?? null;
    const endMs = run.endedMs ?? nowMs;
    const { setpointsC, heatSdK, speedMmPerS, screwTurnsPerMin } = line;
    return {
      run,
      limits,
      woundMm: sumOf(wound, ({ woundMm }) => woundMm),
      coils: sumOf(wound, ({ kept }) => kept?.coils ?? 0),
      preparation: { lot: run.lot, setpointsC, speedMmPerS, screwTurnsPerMin },
      tally: tallyOf(summed),
      figures: {
        runId: run.id,
        nominalMm: limits?.nominalMm ?? Number.NaN,
        stretches: summed.flatMap(({ stretches }) => stretches),
        keptMm: sumOf(wound, ({ kept }) => kept?.keptMm ?? 0),
        longestCoilMm: Math.max(0, ...wound.map(({ kept }) => kept?.longestCoilMm ?? 0)),
        heat: unsteadiest(heatSdK),
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

  async #summed(judged: Judgement): Promise<SummedSpool> {
    const { on, limits, woundMm } = judged;
    const spoilt = spoiltOnSpool(judged.sections, on);
    // Of a run that goes on, the last second of a spool that ended just now may not be written yet.
    if (on.run.endedMs === null) return this.#sumUp(judged, spoilt);
    const key = JSON.stringify([on.spool.id, on.startGaugeMm, on.endGaugeMm, woundMm, limits, spoilt]);
    const known = this.#spools.get(key);
    if (known !== undefined) return known;
    const summed = await this.#sumUp(judged, spoilt);
    this.#spools.set(key, summed);
    if (this.#spools.size > REMEMBERED) this.#spools.delete(this.#spools.keys().next().value!);
    return summed;
  }

  async #sumUp(judged: Judgement, spoilt: Defects): Promise<SummedSpool> {
    try {
      return await this.#parts.judge.ask(judged, 'stretches', { woundMm: judged.woundMm, spoilt });
    } catch (thrown) {
      if (!(thrown instanceof Problem) || thrown.code !== 'readings-thinned') throw thrown;
      return { stretches: await this.#stretchesFromSummaries(judged, spoilt), tally: null };
    }
  }

  /**
   * Stretches of a spool whose single readings were let go, from what was summed up of them: their means stay. How
   * readings spread about these means is not known any more.
   */
  async #stretchesFromSummaries({ on, limits, woundMm }: Judgement, spoilt: Defects): Promise<readonly StretchSums[]> {
    const { startGaugeMm, endGaugeMm } = on;
    const { count, channels } = await this.#parts.samples.window({
      runId: on.run.id,
      axis: 'length',
      from: startGaugeMm,
      to: endGaugeMm,
      columns: Math.min(COLUMNS_MAX, Math.max(1, Math.round((endGaugeMm - startGaugeMm) / STRETCH_MM))),
      channels: ['d'],
    });
    const { nominalMm, strandPresentMm } = limits;
    const { d } = channels;
    // Groups of readings fall into a column whole, so that some get more than their share and some nothing.
    const readings = count.reduce((sum, n) => sum + n, 0);
    return emptyStretches(woundMm, spoilt, count.length).map((sums, i) => {
      const [mean, least] = [d?.mean[i] ?? null, d?.min[i] ?? null];
      const untold = { squareMm3: Number.NaN, withinMm: Number.NaN, rangeSumMm: Number.NaN, ovalMm2: Number.NaN };
      // Readings without strand are in its mean: nothing can be said of such a stretch.
      if (mean === null || least === null || least < strandPresentMm) return { ...sums, ...untold };
      const measuredMm = (woundMm * count[i]!) / readings;
      return { ...sums, ...untold, measuredMm, offMm2: measuredMm * (mean - nominalMm) };
    });
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
