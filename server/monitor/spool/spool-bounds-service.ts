import type { Spool } from '../../entities/spool.ts';
import { Problem } from '../../problem/problem.ts';
import type { SpoolAnalyst } from '../analysis/spool-analyst.ts';
import type { Clock } from '../clock.ts';
import type { LineMonitor } from '../line-monitor.ts';
import type { RecordReader, RecordWriter } from '../ports/record.ts';
import type { SampleColumnsReader, SampleReader } from '../ports/samples.ts';
import type { SpoolRepository } from './spool-repository.ts';
import { namedStrand, type WoundSpool, woundMm } from './wound-spool.ts';

export interface SpoolBoundsServiceParts {
  readonly monitor: Pick<LineMonitor, 'moveSpoolStart' | 'splitSpool'>;
  readonly spools: SpoolRepository;
  readonly analyst: Pick<SpoolAnalyst, 'sectionsBetween'>;
  readonly writer: RecordWriter;
  readonly reader: RecordReader;
  readonly samples: SampleReader & SampleColumnsReader;
  readonly clock: Clock;
}

/** Shorter spools are not possible. */
const SHORTEST_MM = 10;
/** A reading within this distance shows when a place passed the gauge. */
const NEAR_MM = 200;
/** A spool that starts within this distance of the previous one's end was changed from it without a stop. */
const SAME_MM = 0.5;
/** Distance kept from a spool that ended with a stop, so that moving the start later does not move that spool's end. */
const APART_MM = 1;

/**
 * Lets users correct where a spool starts, or state later that it was changed. Readings are kept and only assigned to other
 * spools. Places are gauge lengths, so repeating a request has no further effect.
 */
export class SpoolBoundsService {
  readonly #parts: SpoolBoundsServiceParts;

  constructor(parts: SpoolBoundsServiceParts) {
    this.#parts = parts;
  }

  /**
   * Moves the start of a spool. If it was changed without a stop, the end of the previous one moves too.
   * @param startGaugeMm as counted by the line
   * @throws Problem `unknown-spool`; `bad-place` if it cannot start there; `wrong-state` if it was cut, or if the previous one
   * that would change was cut, measured by tape was weighed, or has named coils; `readings-thinned` if single readings were deleted
   */
  async moveStart(spoolId: number, startGaugeMm: number, who: string): Promise<Spool> {
    const { spools, monitor, analyst, samples } = this.#parts;
    const { runId } = spools.spool(spoolId);
    const extent = await samples.extent(runId);
    const requested = this.#checkStart(spoolId, startGaugeMm, extent?.fromGaugeMm ?? null);
    const { startGaugeMm: before, spool } = requested.woundSpool;
    if (Math.abs(startGaugeMm - before) < SAME_MM / 10) return spool;
    // Strand that is on a spool has been judged already.
    const unjudged = startGaugeMm < before && requested.changedFrom === null;
    const { limits } = spools.settingsOver(runId, startGaugeMm, before);
    const found = unjudged ? await analyst.sectionsBetween(runId, startGaugeMm, before, limits) : [];
    const passedMs = await this.#passedMs(runId, startGaugeMm + requested.woundSpool.settings.gaugeToWinderMm);
    // Checked again, because users may have stated something in the meantime.
    const { woundSpool, changedFrom } = this.#checkStart(spoolId, startGaugeMm, extent?.fromGaugeMm ?? null);
    spools.requireUnmoved(spool);
    const moved = monitor.moveSpoolStart(
      woundSpool.spool,
      changedFrom,
      startGaugeMm,
      passedMs ?? spool.startedMs,
      found,
    );
    const laterMm = (startGaugeMm - woundSpool.startGaugeMm) * woundSpool.scale.factor;
    const change = changedFrom === null ? '' : `, and the end of spool ${changedFrom.ordinal} with it`;
    const shift = `${metres(Math.abs(laterMm))} ${laterMm < 0 ? 'earlier' : 'later'}`;
    this.#log(spool, who, `Moved the start of spool ${spool.ordinal}${change}: ${shift}.`);
    return moved;
  }

  /**
   * Divides a spool that was changed without anyone stating it at the time.
   * @param atGaugeMm as counted by the line
   * @returns the spool that started there
   * @throws Problem `unknown-spool`; `bad-place` for a place that is not on it; `wrong-state` if it is not the last of its
   * run, was cut, measured by tape, or has named coils; `readings-thinned` if single readings were deleted
   */
  async split(spoolId: number, atGaugeMm: number, who: string): Promise<Spool> {
    const { spools, monitor, clock } = this.#parts;
    const requested = this.#checkSplit(spoolId, atGaugeMm);
    const passedMs = await this.#passedMs(requested.run.id, atGaugeMm + requested.settings.gaugeToWinderMm);
    const { spool } = this.#checkSplit(spoolId, atGaugeMm);
    spools.requireUnmoved(requested.spool);
    const next = monitor.splitSpool(spool, atGaugeMm, passedMs ?? spool.endedMs ?? clock());
    const at = metres(atGaugeMm - spool.startGaugeMm);
    this.#log(spool, who, `Divided spool ${spool.ordinal} at ${at}. The strand after that is spool ${next.ordinal}.`);
    return next;
  }

  #checkStart(spoolId: number, startGaugeMm: number, measuredFromMm: number | null) {
    const { spools } = this.#parts;
    const woundSpool = spools.wound(spoolId);
    const { spool, scale } = woundSpool;
    requireUncut(woundSpool);
    const previous = spools.ofRun(woundSpool.run).find((other) => other.spool.ordinal === spool.ordinal - 1) ?? null;
    const previousEndMm = previous?.spool.endGaugeMm ?? Number.NEGATIVE_INFINITY;
    const changedFrom = previous !== null && Math.abs(previousEndMm - spool.startGaugeMm) < SAME_MM ? previous : null;
    if (changedFrom !== null) requireUntouched(changedFrom);
    const laterMm = startGaugeMm - spool.startGaugeMm;
    if (laterMm > woundSpool.endGaugeMm - woundSpool.startGaugeMm - SHORTEST_MM) {
      throw new Problem(
        'bad-place',
        `Spool ${spool.ordinal} cannot start ${metres(laterMm * scale.factor)} later: it holds only ${metres(woundMm(woundSpool))}.`,
        'Give a place on the spool.',
        { pointer: '/startGaugeMm' },
      );
    }
    if (laterMm < 0) {
      const [earliestMm, why] = this.#earliestStart(
        woundSpool,
        previous?.spool ?? null,
        changedFrom?.spool ?? null,
        measuredFromMm ?? spool.startGaugeMm,
      );
      const freeMm = Math.max(0, spool.startGaugeMm - earliestMm);
      if (-laterMm > freeMm + SAME_MM / 10) {
        throw new Problem(
          'bad-place',
          `Spool ${spool.ordinal} cannot start ${metres(-laterMm * scale.factor)} earlier: ${why}.`,
          `Give at most ${(Math.floor(freeMm * scale.factor) / 1000).toFixed(3)} m.`,
          { pointer: '/startGaugeMm' },
        );
      }
    }
    return { woundSpool, changedFrom: changedFrom?.spool ?? null };
  }

  /** The earliest possible start as a gauge length, and the reason. */
  #earliestStart(
    woundSpool: WoundSpool,
    previous: Spool | null,
    changedFrom: Spool | null,
    measuredFromMm: number,
  ): readonly [number, string] {
    if (changedFrom !== null)
      return [changedFrom.startGaugeMm + SHORTEST_MM, `nothing would be left of spool ${changedFrom.ordinal}`];
    const earlier = (mm: number) => `${metres((woundSpool.startGaugeMm - mm) * woundSpool.scale.factor)} before it`;
    const previousEndMm = previous?.endGaugeMm ?? null;
    if (previous !== null && previousEndMm !== null)
      return [previousEndMm + APART_MM, `spool ${previous.ordinal} ended ${earlier(previousEndMm)}`];
    // Strand between gauge and winder when measuring started passed unmeasured.
    const earliestMm = measuredFromMm - woundSpool.settings.gaugeToWinderMm;
    return [earliestMm, `measuring started ${earlier(earliestMm)}`];
  }

  #checkSplit(spoolId: number, atGaugeMm: number): WoundSpool {
    const { spools, reader } = this.#parts;
    const woundSpool = spools.wound(spoolId);
    const { ordinal, runId, startGaugeMm } = woundSpool.spool;
    if (reader.spools(runId).some((other) => other.ordinal > ordinal)) {
      throw new Problem(
        'wrong-state',
        `Spool ${ordinal} is not the last one of its run, so the next number is taken and may be on a label.`,
        `Correct where spool ${ordinal + 1} starts instead.`,
      );
    }
    // Without a tape measurement, counted lengths below are true ones.
    requireUntouched(woundSpool);
    const atMm = atGaugeMm - startGaugeMm;
    const lengthMm = woundMm(woundSpool);
    if (atMm < SHORTEST_MM || atMm > lengthMm - SHORTEST_MM) {
      throw new Problem(
        'bad-place',
        `Spool ${ordinal} cannot have been changed at ${metres(atMm)}: it holds ${metres(lengthMm)}.`,
        'Give a place on the spool.',
        { pointer: '/atGaugeMm' },
      );
    }
    return woundSpool;
  }

  /** When this gauge length passed, UTC ms; null = no reading near it. @throws Problem `readings-thinned` */
  async #passedMs(runId: number, gaugeMm: number): Promise<number | null> {
    const { timeMs } = await this.#parts.samples.readings(runId, gaugeMm, gaugeMm + NEAR_MM, ['d']);
    return timeMs[0] ?? null;
  }

  #log(spool: Spool, who: string, what: string): void {
    this.#parts.writer.log({ timeMs: this.#parts.clock(), runId: spool.runId, who, what });
  }
}

function requireUncut({ spool, cuts }: WoundSpool): void {
  if (cuts.length === 0) return;
  throw new Problem(
    'wrong-state',
    `Spool ${spool.ordinal} is being cut: ${cuts.length === 1 ? 'a cut is' : `${cuts.length} cuts are`} ticked off and counted from its present ends.`,
    'Undo the cuts on the rewinder page first.',
  );
}

/** Measurements, cuts and names of a whole spool do not apply to a shorter or longer one. */
export function requireUntouched(woundSpool: WoundSpool): void {
  const { spool, correction, weighing } = woundSpool;
  requireUncut(woundSpool);
  if (correction !== null) {
    throw new Problem(
      'wrong-state',
      `The length of spool ${spool.ordinal} was corrected by tape, and that measurement applies only to its present ends.`,
      'Undo the measurement on the page of that spool, and measure again afterwards.',
    );
  }
  if (weighing !== null) {
    throw new Problem(
      'wrong-state',
      `Spool ${spool.ordinal} was weighed as it is, and its mass applies only to its present ends.`,
      'Undo the weighing on the page of that spool, and weigh it again afterwards.',
    );
  }
  if (namedStrand(woundSpool).length > 0) {
    throw new Problem(
      'wrong-state',
      `Coils of spool ${spool.ordinal} have names, and its coils would change.`,
      'Remove the names on the rewinder page first.',
    );
  }
}

function metres(mm: number): string {
  return `${(mm / 1000).toFixed(2)} m`;
}
