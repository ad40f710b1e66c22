import type { Spool } from '../../entities/spool.ts';
import { Problem } from '../../problem/problem.ts';
import type { SpoolAnalyst } from '../analysis/spool-analyst.ts';
import type { LineMonitor } from '../line-monitor.ts';
import type { RecordReader, RecordWriter } from '../ports/record.ts';
import type { SampleColumnsReader, SampleReader } from '../ports/samples.ts';
import type { Clock } from '../steady-clock.ts';
import type { SpoolRepository } from './spool-repository.ts';
import { namedStrand, type WoundSpool, woundMm } from './wound-spool.ts';

export interface SpoolBoundsServiceParts {
  readonly monitor: Pick<LineMonitor, 'spoolBegins' | 'spoolWasChanged'>;
  readonly spools: SpoolRepository;
  readonly analyst: Pick<SpoolAnalyst, 'sectionsBetween'>;
  readonly writer: RecordWriter;
  readonly reader: RecordReader;
  readonly samples: SampleReader & SampleColumnsReader;
  readonly clock: Clock;
}

/** A spool shorter than this is none. */
const SHORTEST_MM = 10;
/** Within so much strand of a place a reading tells when it passed. */
const NEAR_MM = 200;
/** A spool that begins no further than this from the end of the one before was changed from it without a stop. */
const SAME_MM = 0.5;
/** What ended with a stop stays apart from the next one by so much: it takes no part in what is said of that later. */
const APART_MM = 1;

/**
 * Where a person says afterwards where a spool begins, or that it was changed while nobody said so. Readings stay as they
 * are; only to which spool they belong becomes other. Places are gauge lengths: said twice they are the same.
 */
export class SpoolBoundsService {
  readonly #parts: SpoolBoundsServiceParts;

  constructor(parts: SpoolBoundsServiceParts) {
    this.#parts = parts;
  }

  /**
   * Where the spool was changed without a stop, the one before ends where this begins, wherever that is.
   * @param startGaugeMm as the line counted
   * @throws Problem `unknown-spool`; `bad-place` for a place where it cannot begin; `wrong-state` where it, or the one that
   * ends there, was cut, or that was measured by tape or has coils with names; `readings-thinned` where single readings
   * are gone
   */
  async begins(spoolId: number, startGaugeMm: number, who: string): Promise<Spool> {
    const { spools, monitor, analyst, samples } = this.#parts;
    const { runId } = spools.spool(spoolId);
    const extent = await samples.extent(runId);
    const asked = this.#checkBeginning(spoolId, startGaugeMm, extent?.fromGaugeMm ?? null);
    const { startGaugeMm: before, spool } = asked.on;
    if (Math.abs(startGaugeMm - before) < SAME_MM / 10) return spool;
    // What lies on a spool is judged already.
    const unjudged = startGaugeMm < before && asked.changedFrom === null;
    const { limits } = spools.settingsOver(runId, startGaugeMm, before);
    const found = unjudged ? await analyst.sectionsBetween(runId, startGaugeMm, before, limits) : [];
    const passedMs = await this.#passedMs(runId, startGaugeMm + asked.on.settings.gaugeToWinderMm);
    // Much may have been stated since.
    const { on, changedFrom } = this.#checkBeginning(spoolId, startGaugeMm, extent?.fromGaugeMm ?? null);
    spools.unmoved(spool);
    const moved = monitor.spoolBegins(on.spool, changedFrom, startGaugeMm, passedMs ?? spool.startedMs, found);
    const laterMm = (startGaugeMm - on.startGaugeMm) * on.scale.factor;
    const than = changedFrom === null ? 'it was taken to' : `it was changed from spool ${changedFrom.ordinal}`;
    const sentence = `${metres(Math.abs(laterMm))} ${laterMm < 0 ? 'earlier' : 'later'} than ${than}`;
    this.#log(spool, who, `Said that spool ${spool.ordinal} begins ${sentence}.`);
    return moved;
  }

  /**
   * @param atGaugeMm as the line counted
   * @returns the spool that began there
   * @throws Problem `unknown-spool`; `bad-place` for a place that is not on it; `wrong-state` where it is not the last of its
   * run, or was cut, measured by tape, or has coils with names; `readings-thinned` where single readings are gone
   */
  async wasChanged(spoolId: number, atGaugeMm: number, who: string): Promise<Spool> {
    const { spools, monitor, clock } = this.#parts;
    const asked = this.#checkChange(spoolId, atGaugeMm);
    const passedMs = await this.#passedMs(asked.run.id, atGaugeMm + asked.settings.gaugeToWinderMm);
    const { spool } = this.#checkChange(spoolId, atGaugeMm);
    spools.unmoved(asked.spool);
    const begun = monitor.spoolWasChanged(spool, atGaugeMm, passedMs ?? spool.endedMs ?? clock());
    const at = metres(atGaugeMm - spool.startGaugeMm);
    const sentence = `was changed at ${at}: what was wound behind that is spool ${begun.ordinal}`;
    this.#log(spool, who, `Said that spool ${spool.ordinal} ${sentence}.`);
    return begun;
  }

  #checkBeginning(spoolId: number, startGaugeMm: number, measuredFromMm: number | null) {
    const { spools } = this.#parts;
    const on = spools.wound(spoolId);
    const { spool, scale } = on;
    refuseCut(on);
    const last = spools.ofRun(on.run).find((other) => other.spool.ordinal === spool.ordinal - 1) ?? null;
    const lastEndMm = last?.spool.endGaugeMm ?? Number.NEGATIVE_INFINITY;
    const from = last !== null && Math.abs(lastEndMm - spool.startGaugeMm) < SAME_MM ? last : null;
    if (from !== null) refuseWorked(from);
    const laterMm = startGaugeMm - spool.startGaugeMm;
    if (laterMm > on.endGaugeMm - on.startGaugeMm - SHORTEST_MM) {
      throw new Problem(
        'bad-place',
        `Spool ${spool.ordinal} cannot begin ${metres(laterMm * scale.factor)} later: it holds only ${metres(woundMm(on))}.`,
        'Give a place on the spool.',
        { pointer: '/startGaugeMm' },
      );
    }
    if (laterMm < 0) {
      const [floorMm, why] = this.#floor(
        on,
        last?.spool ?? null,
        from?.spool ?? null,
        measuredFromMm ?? spool.startGaugeMm,
      );
      const freeMm = Math.max(0, spool.startGaugeMm - floorMm);
      if (-laterMm > freeMm + SAME_MM / 10) {
        throw new Problem(
          'bad-place',
          `Spool ${spool.ordinal} cannot begin ${metres(-laterMm * scale.factor)} earlier: ${why}.`,
          `Give at most ${(Math.floor(freeMm * scale.factor) / 1000).toFixed(3)} m.`,
          { pointer: '/startGaugeMm' },
        );
      }
    }
    return { on, changedFrom: from?.spool ?? null };
  }

  /** Gauge length before which it cannot begin, and why. */
  #floor(
    on: WoundSpool,
    last: Spool | null,
    changedFrom: Spool | null,
    measuredFromMm: number,
  ): readonly [number, string] {
    if (changedFrom !== null)
      return [changedFrom.startGaugeMm + SHORTEST_MM, `nothing would be left of spool ${changedFrom.ordinal}`];
    const before = (mm: number) => `${metres((on.startGaugeMm - mm) * on.scale.factor)} before it`;
    const lastEndMm = last?.endGaugeMm ?? null;
    if (last !== null && lastEndMm !== null)
      return [lastEndMm + APART_MM, `spool ${last.ordinal} ended ${before(lastEndMm)}`];
    // What was between gauge and winder when measuring began passed unmeasured.
    const floorMm = measuredFromMm - on.settings.gaugeToWinderMm;
    return [floorMm, `measuring began ${before(floorMm)}`];
  }

  #checkChange(spoolId: number, atGaugeMm: number): WoundSpool {
    const { spools, reader } = this.#parts;
    const on = spools.wound(spoolId);
    const { ordinal, runId, startGaugeMm } = on.spool;
    if (reader.spools(runId).some((other) => other.ordinal > ordinal)) {
      throw new Problem(
        'wrong-state',
        `Spool ${ordinal} is not the last one of its run: the number of the next is taken, and may stand on a label.`,
        `Put right where spool ${ordinal + 1} begins instead.`,
      );
    }
    // So it was not measured by tape either: a true length is a counted one.
    refuseWorked(on);
    const atMm = atGaugeMm - startGaugeMm;
    const lengthMm = woundMm(on);
    if (atMm < SHORTEST_MM || atMm > lengthMm - SHORTEST_MM) {
      throw new Problem(
        'bad-place',
        `Spool ${ordinal} cannot have been changed at ${metres(atMm)}: it holds ${metres(lengthMm)}.`,
        'Give a place on the spool.',
        { pointer: '/atGaugeMm' },
      );
    }
    return on;
  }

  /** When so much strand had passed the gauge, UTC ms; null = no reading tells. @throws Problem `readings-thinned` */
  async #passedMs(runId: number, gaugeMm: number): Promise<number | null> {
    const { timeMs } = await this.#parts.samples.readings(runId, gaugeMm, gaugeMm + NEAR_MM, ['d']);
    return timeMs[0] ?? null;
  }

  #log(spool: Spool, who: string, what: string): void {
    this.#parts.writer.log({ timeMs: this.#parts.clock(), runId: spool.runId, who, what });
  }
}

function refuseCut({ spool, cuts }: WoundSpool): void {
  if (cuts.length === 0) return;
  throw new Problem(
    'wrong-state',
    `Spool ${spool.ordinal} is being cut: ${cuts.length === 1 ? 'a cut is' : `${cuts.length} cuts are`} ticked off, planned from where it lies now.`,
    'Take the cuts back on the page of the rewinder first.',
  );
}

/** What was stated about the whole spool does not hold for a part of it, nor for more than it. */
function refuseWorked(on: WoundSpool): void {
  const { spool, correction } = on;
  refuseCut(on);
  if (correction !== null) {
    throw new Problem(
      'wrong-state',
      `The lengths of spool ${spool.ordinal} were put right by tape, and that measurement holds for it as it is now.`,
      'Take the measurement back on the page of that spool, and measure again afterwards.',
    );
  }
  if (namedStrand(on).length > 0) {
    throw new Problem(
      'wrong-state',
      `Coils of spool ${spool.ordinal} have names, and it would have other coils.`,
      'Take the names off on the page of the rewinder first.',
    );
  }
}

function metres(mm: number): string {
  return `${(mm / 1000).toFixed(2)} m`;
}
