import { Problem } from '../problem/problem.ts';
import { knownSpool, unmovedSpool } from './known.ts';
import { lengthScaleOf } from './length-desk.ts';
import type { LineMonitor } from './line-monitor.ts';
import type { RecordKeeper, RecordReader, SampleColumnsReader, SampleReader, Spool, SpoolWords } from './ports.ts';
import { runSettingsNow, settingsOf } from './run-settings.ts';
import type { SpoolAnalyst } from './spool-analyst.ts';
import type { Clock } from './steady-clock.ts';

export interface SpoolBoundsDeskParts {
  readonly monitor: Pick<LineMonitor, 'settings' | 'woundMm' | 'spoolBegins' | 'spoolWasChanged'>;
  readonly analyst: Pick<SpoolAnalyst, 'sectionsBetween'>;
  readonly keeper: RecordKeeper;
  readonly reader: RecordReader;
  readonly samples: SampleReader & SampleColumnsReader;
  readonly words: SpoolWords;
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
export class SpoolBoundsDesk {
  readonly #parts: SpoolBoundsDeskParts;

  constructor(parts: SpoolBoundsDeskParts) {
    this.#parts = parts;
  }

  /**
   * Where the spool was changed without a stop, the one before ends where this begins, wherever that is.
   * @param startGaugeMm as the line counted
   * @throws Problem `unknown-spool`; `bad-request` for a place where it cannot begin; `wrong-state` where it, or the one that
   * ends there, was cut, or that was measured by tape or has coils with names; `readings-thinned` where single readings
   * are gone
   */
  async begins(spoolId: number, startGaugeMm: number, who: string): Promise<Spool> {
    const { reader, monitor, analyst, samples } = this.#parts;
    const { runId } = knownSpool(reader, spoolId);
    const extent = await samples.extent(runId);
    const asked = this.#checkBeginning(spoolId, startGaugeMm, extent?.fromGaugeMm ?? null);
    if (Math.abs(startGaugeMm - asked.spool.startGaugeMm) < SAME_MM / 10) return asked.spool;
    // What lies on a spool is judged already.
    const unjudged = startGaugeMm < asked.spool.startGaugeMm && asked.changedFrom === null;
    const found = unjudged ? await analyst.sectionsBetween(asked.spool, startGaugeMm, asked.spool.startGaugeMm) : [];
    const passedMs = await this.#passedMs(runId, startGaugeMm + this.#pathMm(asked.spool));
    // Much may have been said meanwhile.
    const { spool, changedFrom } = this.#checkBeginning(spoolId, startGaugeMm, extent?.fromGaugeMm ?? null);
    unmovedSpool(reader, asked.spool);
    const moved = monitor.spoolBegins(spool, changedFrom, startGaugeMm, passedMs ?? spool.startedMs, found);
    const laterMm = (startGaugeMm - spool.startGaugeMm) * this.#factor(spool);
    const than = changedFrom === null ? 'it was taken to' : `it was changed from spool ${changedFrom.ordinal}`;
    const words = `${metres(Math.abs(laterMm))} ${laterMm < 0 ? 'earlier' : 'later'} than ${than}`;
    this.#log(spool, who, `Said that spool ${spool.ordinal} begins ${words}.`);
    return moved;
  }

  /**
   * @param atGaugeMm as the line counted
   * @returns the spool that began there
   * @throws Problem `unknown-spool`; `bad-request` for a place that is not on it; `wrong-state` where it is not the last of its
   * run, or was cut, measured by tape, or has coils with names; `readings-thinned` where single readings are gone
   */
  async wasChanged(spoolId: number, atGaugeMm: number, who: string): Promise<Spool> {
    const { reader, monitor, clock } = this.#parts;
    const asked = this.#checkChange(spoolId, atGaugeMm);
    const passedMs = await this.#passedMs(asked.runId, atGaugeMm + this.#pathMm(asked));
    const spool = this.#checkChange(spoolId, atGaugeMm);
    unmovedSpool(reader, asked);
    const begun = monitor.spoolWasChanged(spool, atGaugeMm, passedMs ?? spool.endedMs ?? clock());
    const at = metres(atGaugeMm - spool.startGaugeMm);
    const words = `was changed at ${at}: what was wound behind that is spool ${begun.ordinal}`;
    this.#log(spool, who, `Said that spool ${spool.ordinal} ${words}.`);
    return begun;
  }

  #checkBeginning(spoolId: number, startGaugeMm: number, measuredFromMm: number | null) {
    const { reader, monitor } = this.#parts;
    const spool = knownSpool(reader, spoolId);
    this.#refuseCut(spool);
    const last = reader.spools(spool.runId).find(({ ordinal }) => ordinal === spool.ordinal - 1) ?? null;
    const lastEndMm = last?.endGaugeMm ?? Number.NEGATIVE_INFINITY;
    const changedFrom = Math.abs(lastEndMm - spool.startGaugeMm) < SAME_MM ? last : null;
    if (changedFrom !== null) this.#refuseWorked(changedFrom);
    const factor = this.#factor(spool);
    const laterMm = startGaugeMm - spool.startGaugeMm;
    const lengthMm = monitor.woundMm(spool);
    if (laterMm > lengthMm - SHORTEST_MM) {
      throw new Problem(
        'bad-request',
        `Spool ${spool.ordinal} cannot begin ${metres(laterMm * factor)} later: only ${metres(lengthMm * factor)} lie on it.`,
        'Give a place on the spool.',
      );
    }
    if (laterMm < 0) {
      const [floorMm, why] = this.#floor(spool, last, changedFrom, measuredFromMm ?? spool.startGaugeMm);
      const freeMm = Math.max(0, spool.startGaugeMm - floorMm);
      if (-laterMm > freeMm + SAME_MM / 10) {
        throw new Problem(
          'bad-request',
          `Spool ${spool.ordinal} cannot begin ${metres(-laterMm * factor)} earlier: ${why}.`,
          `Give at most ${(Math.floor(freeMm * factor) / 1000).toFixed(3)} m.`,
        );
      }
    }
    return { spool, changedFrom };
  }

  /** Gauge length before which it cannot begin, and why. */
  #floor(
    spool: Spool,
    last: Spool | null,
    changedFrom: Spool | null,
    measuredFromMm: number,
  ): readonly [number, string] {
    if (changedFrom !== null)
      return [changedFrom.startGaugeMm + SHORTEST_MM, `nothing would be left of spool ${changedFrom.ordinal}`];
    const before = (mm: number) => `${metres((spool.startGaugeMm - mm) * this.#factor(spool))} before it`;
    const lastEndMm = last?.endGaugeMm ?? null;
    if (last !== null && lastEndMm !== null)
      return [lastEndMm + APART_MM, `spool ${last.ordinal} ended ${before(lastEndMm)}`];
    // What was between gauge and winder when measuring began passed unmeasured.
    const floorMm = measuredFromMm - this.#pathMm(spool);
    return [floorMm, `measuring began ${before(floorMm)}`];
  }

  #checkChange(spoolId: number, atGaugeMm: number): Spool {
    const { reader, monitor } = this.#parts;
    const spool = knownSpool(reader, spoolId);
    const { ordinal, runId } = spool;
    if (reader.spools(runId).some((other) => other.ordinal > ordinal)) {
      throw new Problem(
        'wrong-state',
        `Spool ${ordinal} is not the last one of its run: the number of the next is taken, and may stand on a label.`,
        `Put right where spool ${ordinal + 1} begins instead.`,
      );
    }
    // So it was not measured by tape either: a true length is a counted one.
    this.#refuseWorked(spool);
    const lengthMm = monitor.woundMm(spool);
    const atMm = atGaugeMm - spool.startGaugeMm;
    if (atMm < SHORTEST_MM || atMm > lengthMm - SHORTEST_MM) {
      throw new Problem(
        'bad-request',
        `Spool ${ordinal} cannot have been changed at ${metres(atMm)}: ${metres(lengthMm)} lie on it.`,
        'Give a place on the spool.',
      );
    }
    return spool;
  }

  /** True length = this × counted. */
  #factor(spool: Spool): number {
    return lengthScaleOf(this.#parts.words.lengthCorrection(spool.id)).factor;
  }

  /** Path from gauge to winder that its places are told by. */
  #pathMm(spool: Spool): number {
    const { reader, monitor } = this.#parts;
    const endGaugeMm = spool.startGaugeMm + monitor.woundMm(spool);
    const now = runSettingsNow(monitor.settings, 0);
    return settingsOf(spool, endGaugeMm, reader.runSettings(spool.runId), now).gaugeToWinderMm;
  }

  /** When so much strand had passed the gauge, UTC ms; null = no reading tells. @throws Problem `readings-thinned` */
  async #passedMs(runId: number, gaugeMm: number): Promise<number | null> {
    const { timeMs } = await this.#parts.samples.readings(runId, gaugeMm, gaugeMm + NEAR_MM, ['d']);
    return timeMs[0] ?? null;
  }

  #refuseCut(spool: Spool): void {
    const made = this.#parts.words.cuts(spool.id).length;
    if (made === 0) return;
    throw new Problem(
      'wrong-state',
      `Spool ${spool.ordinal} is being cut: ${made === 1 ? 'a cut is' : `${made} cuts are`} ticked off, planned from where it lies now.`,
      'Take the cuts back on the page of the rewinder first.',
    );
  }

  /** What was said of the whole spool does not hold for a part of it, nor for more than it. */
  #refuseWorked(spool: Spool): void {
    const { words } = this.#parts;
    this.#refuseCut(spool);
    if (words.lengthCorrection(spool.id) !== null) {
      throw new Problem(
        'wrong-state',
        `The lengths of spool ${spool.ordinal} were put right by tape, and that measurement holds for it as it is now.`,
        'Take the measurement back on the page of that spool, and measure anew afterwards.',
      );
    }
    if (words.coilNames(spool.id).size > 0) {
      throw new Problem(
        'wrong-state',
        `Coils of spool ${spool.ordinal} have names, and it would have other coils.`,
        'Take the names off on the page of the rewinder first.',
      );
    }
  }

  #log(spool: Spool, who: string, what: string): void {
    this.#parts.keeper.log({ timeMs: this.#parts.clock(), runId: spool.runId, who, what });
  }
}

function metres(mm: number): string {
  return `${(mm / 1000).toFixed(2)} m`;
}
