import { Problem } from '../problem/problem.ts';
import { knownSpool } from './known.ts';
import { lengthScaleOf } from './length-desk.ts';
import type { LineMonitor } from './line-monitor.ts';
import type { RecordKeeper, RecordReader, SampleReader, Spool, SpoolWords } from './ports.ts';
import { runSettingsNow, settingsOf } from './run-settings.ts';
import type { SpoolAnalyst } from './spool-analyst.ts';
import type { Clock } from './steady-clock.ts';

export interface SpoolBoundsDeskParts {
  readonly monitor: Pick<LineMonitor, 'settings' | 'woundMm' | 'spoolBegins' | 'spoolWasChanged'>;
  readonly analyst: Pick<SpoolAnalyst, 'sectionsBetween'>;
  readonly keeper: RecordKeeper;
  readonly reader: RecordReader;
  readonly samples: SampleReader;
  readonly words: SpoolWords;
  readonly clock: Clock;
}

/** A spool shorter than this is none. */
const SHORTEST_MM = 10;
/** Within so much strand of a place a reading tells when it passed. */
const NEAR_MM = 200;
const SAME_MM = 0.5;

/**
 * Where a person says afterwards where a spool begins, or that it was changed while nobody said so. Readings stay as they
 * are; only to which spool they belong becomes other.
 */
export class SpoolBoundsDesk {
  readonly #parts: SpoolBoundsDeskParts;

  constructor(parts: SpoolBoundsDeskParts) {
    this.#parts = parts;
  }

  /**
   * Where the spool was changed without a stop, the one before ends where this begins, wherever that is.
   * @param atSpoolMm true mm from where it begins now; below 0 = earlier
   * @throws Problem `unknown-spool`; `bad-request` for a place where it cannot begin; `wrong-state` where it, or the one that
   * ends there, was cut, or that was measured by tape or has coils with names; `readings-thinned` where the strand that
   * came before it can no longer be judged
   */
  async begins(spoolId: number, atSpoolMm: number, who: string): Promise<Spool> {
    const { reader, monitor, analyst } = this.#parts;
    const spool = knownSpool(reader, spoolId);
    this.#refuseCut(spool);
    const { startGaugeMm, runId, ordinal } = spool;
    const factor = this.#factor(spool);
    const laterMm = atSpoolMm / factor;
    const atGaugeMm = startGaugeMm + laterMm;
    const pathMm = this.#pathMm(spool);
    const last = reader.spools(runId).find((other) => other.ordinal === ordinal - 1) ?? null;
    const lastEndMm = last?.endGaugeMm ?? Number.NEGATIVE_INFINITY;
    const changed = Math.abs(lastEndMm - startGaugeMm) < SAME_MM ? last : null;
    if (changed !== null) this.#refuseWorked(changed);
    if (laterMm < 0) {
      const [floorMm, why] = await this.#floor(spool, last, changed);
      const freeMm = Math.max(0, startGaugeMm - floorMm);
      if (-laterMm > freeMm + SAME_MM) {
        throw new Problem(
          'bad-request',
          `Spool ${ordinal} cannot begin ${metres(-atSpoolMm)} earlier: ${why}.`,
          `Give at most ${metres(freeMm * factor)}.`,
        );
      }
    }
    const lengthMm = monitor.woundMm(spool);
    if (laterMm > lengthMm - SHORTEST_MM) {
      throw new Problem(
        'bad-request',
        `Spool ${ordinal} cannot begin ${metres(atSpoolMm)} later: only ${metres(lengthMm * factor)} lie on it.`,
        'Give a place on the spool.',
      );
    }
    // What lies on a spool is judged already.
    const unjudged = laterMm < 0 && changed === null;
    const found = unjudged ? await analyst.sectionsBetween(spool, atGaugeMm, startGaugeMm) : [];
    const startedMs = (await this.#woundAtMs(runId, atGaugeMm + pathMm)) ?? spool.startedMs;
    const moved = monitor.spoolBegins(
      this.#unchanged(spool),
      changed && this.#unchanged(changed),
      atGaugeMm,
      startedMs,
      found,
    );
    const than = changed === null ? 'it was taken to' : `it was changed from spool ${changed.ordinal}`;
    this.#log(
      spool,
      who,
      `Said that spool ${ordinal} begins ${metres(Math.abs(atSpoolMm))} ${atSpoolMm < 0 ? 'earlier' : 'later'} than ${than}.`,
    );
    return moved;
  }

  /**
   * @param atSpoolMm true mm from its inner end
   * @returns the spool that began there
   * @throws Problem `unknown-spool`; `bad-request` for a place that is not on it; `wrong-state` where it is not the last of its
   * run, or was cut, measured by tape, or has coils with names
   */
  async wasChanged(spoolId: number, atSpoolMm: number, who: string): Promise<Spool> {
    const { reader, monitor, clock } = this.#parts;
    const spool = knownSpool(reader, spoolId);
    const { ordinal, runId, startGaugeMm } = spool;
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
    const atGaugeMm = startGaugeMm + atSpoolMm;
    if (atSpoolMm < SHORTEST_MM || atSpoolMm > lengthMm - SHORTEST_MM) {
      throw new Problem(
        'bad-request',
        `Spool ${ordinal} cannot have been changed at ${metres(atSpoolMm)}: ${metres(lengthMm)} lie on it.`,
        'Give a place on the spool.',
      );
    }
    const atMs = (await this.#woundAtMs(runId, atGaugeMm + this.#pathMm(spool))) ?? spool.endedMs ?? clock();
    const begun = monitor.spoolWasChanged(this.#unchanged(spool), atGaugeMm, atMs);
    this.#log(
      spool,
      who,
      `Said that spool ${ordinal} was changed at ${metres(atSpoolMm)}: what was wound behind that is spool ${begun.ordinal}.`,
    );
    return begun;
  }

  /** Gauge length before which it cannot begin, and why. */
  async #floor(spool: Spool, last: Spool | null, changed: Spool | null): Promise<readonly [number, string]> {
    if (changed !== null)
      return [changed.startGaugeMm + SHORTEST_MM, `nothing would be left of spool ${changed.ordinal}`];
    const before = (mm: number) => `${metres((spool.startGaugeMm - mm) * this.#factor(spool))} before it`;
    const lastEndMm = last?.endGaugeMm ?? null;
    if (last !== null && lastEndMm !== null) return [lastEndMm, `spool ${last.ordinal} ended ${before(lastEndMm)}`];
    const extent = await this.#parts.samples.extent(spool.runId);
    // What was between gauge and winder when measuring began passed unmeasured.
    const floorMm = (extent?.fromGaugeMm ?? spool.startGaugeMm) - this.#pathMm(spool);
    return [floorMm, `measuring began ${before(floorMm)}`];
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

  /** When so much strand had passed the gauge, UTC ms; null = no reading tells. */
  async #woundAtMs(runId: number, gaugeMm: number): Promise<number | null> {
    const { timeMs } = await this.#parts.samples.window({
      runId,
      axis: 'length',
      from: gaugeMm,
      to: gaugeMm + NEAR_MM,
      columns: 1,
      channels: ['d'],
    });
    return timeMs[0] ?? null;
  }

  /** It must be as it was when the answer was begun. */
  #unchanged(spool: Spool): Spool {
    const now = knownSpool(this.#parts.reader, spool.id);
    if (now.startGaugeMm === spool.startGaugeMm && now.endGaugeMm === spool.endGaugeMm) return now;
    throw new Problem(
      'wrong-state',
      `Spool ${spool.ordinal} became other meanwhile: it ended, or somebody said something of it on another screen.`,
      'Look at the spool again, then say it again.',
    );
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
