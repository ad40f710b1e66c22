import { Problem } from '../problem/problem.ts';
import type { DoneCut } from '../strand/plan/done-cuts.ts';
import type { KeptCut, RecordKeeper, Spool, SpoolWords } from './ports.ts';
import type { Clock } from './steady-clock.ts';

/** Where persons tick off the steps of a cut plan, take them back, and name the coils that result. Append only. */
export class CutDesk {
  readonly #parts: { readonly keeper: RecordKeeper; readonly words: SpoolWords; readonly clock: Clock };

  constructor(parts: { keeper: RecordKeeper; words: SpoolWords; clock: Clock }) {
    this.#parts = parts;
  }

  cuts(spoolId: number): readonly KeptCut[] {
    return this.#parts.words.cuts(spoolId);
  }

  /**
   * @param cutsBefore how many were made as the person saw it
   * @throws Problem wrong-state while the spool is being wound, or where somebody else was quicker
   */
  add(spool: Spool, cut: DoneCut, cutsBefore: number | null, who: string): KeptCut {
    this.refuse(spool, cutsBefore);
    const added = this.#parts.words.addCut(spool.id, {
      action: cut.action,
      countedMm: cut.countedMm,
      landmarkCountedMm: cut.landmarkCountedMm ?? null,
      reachedEnd: cut.reachedEnd ?? false,
      atMs: this.#parts.clock(),
      who,
    });
    this.#log(spool, who, `Cut spool ${spool.ordinal}: ${inWords(added)}.`);
    return added;
  }

  /** @throws Problem wrong-state as `add` */
  refuse(spool: Spool, cutsBefore: number | null): void {
    if (spool.endGaugeMm === null) {
      throw new Problem(
        'wrong-state',
        `Spool ${spool.ordinal} is still being wound, so nothing can be cut from it.`,
        'Take it off the winder first: end the spool on the live page.',
      );
    }
    const made = this.cuts(spool.id).length;
    if (cutsBefore !== null && cutsBefore !== made) {
      throw new Problem(
        'wrong-state',
        `${made} cuts of this spool are ticked off, not ${cutsBefore}: somebody ticked on another screen.`,
        'Load the plan anew and go on with its first step.',
      );
    }
  }

  /** @throws Problem wrong-state where none was made */
  takeBackLast(spool: Spool, who: string): KeptCut {
    const taken = this.#parts.words.takeBackLastCut(spool.id, this.#parts.clock(), who);
    if (taken === null) {
      throw new Problem(
        'wrong-state',
        `No cut of spool ${spool.ordinal} is ticked off, so none can be taken back.`,
        'Load the plan anew.',
      );
    }
    this.#log(spool, who, `Took back the last cut of spool ${spool.ordinal}: ${inWords(taken)}.`);
    return taken;
  }

  coilNames(spoolId: number): ReadonlyMap<number, string> {
    return this.#parts.words.coilNames(spoolId);
  }

  /** @param coil its place in the order in which coils come off, from 1 */
  nameCoil(spool: Spool, coil: number, name: string, who: string): void {
    const { words, clock } = this.#parts;
    const tidy = name.trim();
    words.nameCoil(spool.id, coil, tidy, clock(), who);
    this.#log(
      spool,
      who,
      tidy === ''
        ? `Took the name off coil ${coil} of spool ${spool.ordinal}.`
        : `Named coil ${coil} of spool ${spool.ordinal} “${tidy}”.`,
    );
  }

  #log(spool: Spool, who: string, what: string): void {
    this.#parts.keeper.log({ timeMs: this.#parts.clock(), runId: spool.runId, who, what });
  }
}

/** As the plan takes it. */
export function asDoneCut(cut: KeptCut): DoneCut {
  return {
    action: cut.action,
    countedMm: cut.countedMm,
    ...(cut.landmarkCountedMm === null ? {} : { landmarkCountedMm: cut.landmarkCountedMm }),
    ...(cut.reachedEnd ? { reachedEnd: true } : {}),
  };
}

function inWords(cut: KeptCut): string {
  return `${cut.action === 'keep' ? 'kept' : 'discarded'} ${(cut.countedMm / 1000).toFixed(3)} m`;
}
