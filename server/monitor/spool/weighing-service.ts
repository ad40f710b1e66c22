import type { Weighing } from '../../entities/spool.ts';
import { Problem } from '../../problem/problem.ts';
import type { Clock } from '../clock.ts';
import type { RecordWriter } from '../ports/record.ts';
import type { SpoolStatements } from '../ports/spool-statements.ts';
import { type Judgement, strandMass } from './judgement.ts';
import { isWinding, type WoundSpool } from './wound-spool.ts';

export type WeighingInput = Omit<Weighing, 'atMs' | 'who'>;

/** A weighing with more uncertainty than this tells less than the geometry does. */
const SHARE_MAX = 0.1;
/** From foamed to metal-filled plastics, g/cm³. Common practice, no source. */
const DENSITY_MIN = 0.3;
const DENSITY_MAX = 5;

export interface WeighingServiceParts {
  readonly writer: Pick<RecordWriter, 'log'>;
  readonly statements: SpoolStatements;
  readonly clock: Clock;
  /** Called after each change, so that open pages load the spool again. */
  changed(): void;
}

/** Lets users replace the computed mass of a spool by what a scale shows. Append only. */
export class WeighingService {
  readonly #parts: WeighingServiceParts;

  constructor(parts: WeighingServiceParts) {
    this.#parts = parts;
  }

  of(spoolId: number): Weighing | null {
    return this.#parts.statements.weighing(spoolId);
  }

  /** @throws Problem `bad-length`; `wrong-state` while the spool is being wound, or after something was taken from it */
  weigh(judged: Judgement, input: WeighingInput, who: string): void {
    const { woundSpool } = judged;
    const { spool } = woundSpool;
    requireWhole(woundSpool, this.#parts.statements.uses(spool.id).length);
    checkWeighing(input);
    const weighing = { ...input, atMs: this.#parts.clock(), who };
    const { densityGPerCm3 } = strandMass(
      { ...judged, woundSpool: { ...woundSpool, weighing } },
      judged.meanDiameterMm,
    );
    if (!(densityGPerCm3 >= DENSITY_MIN && densityGPerCm3 <= DENSITY_MAX))
      throw new Problem(
        'bad-length',
        `${netText(input)} on ${(judged.woundMm / 1000).toFixed(1)} m would be a density of ${densityGPerCm3.toFixed(2)} g/cm³, which no plastic has.`,
        'Give both masses in grams: the spool with its strand, and the same spool empty.',
        { pointer: '/grossG' },
      );
    this.#parts.statements.weigh(spool.id, input, weighing.atMs, who);
    this.#parts.changed();
    this.#log(
      woundSpool,
      who,
      `Weighed spool ${spool.ordinal}: ${netText(input)} ± ${input.uncertaintyG} g of strand, so its density is ${densityGPerCm3.toFixed(3)} g/cm³.`,
    );
  }

  /** Removes the weighing. */
  takeBack(woundSpool: WoundSpool, who: string): void {
    const { id, ordinal } = woundSpool.spool;
    if (this.of(id) === null) return;
    this.#parts.statements.weigh(id, null, this.#parts.clock(), who);
    this.#parts.changed();
    this.#log(woundSpool, who, `Removed the weighing of spool ${ordinal}.`);
  }

  #log({ spool }: WoundSpool, who: string, what: string): void {
    this.#parts.writer.log({ timeMs: this.#parts.clock(), runId: spool.runId, who, what });
  }
}

function requireWhole(woundSpool: WoundSpool, uses: number): void {
  const { ordinal } = woundSpool.spool;
  if (isWinding(woundSpool))
    throw new Problem(
      'wrong-state',
      `Spool ${ordinal} is still being wound, so its mass is not final.`,
      'Take it off the winder first: end the spool on the live page.',
    );
  if (woundSpool.cuts.length > 0 || uses > 0)
    throw new Problem(
      'wrong-state',
      `Strand has been taken from spool ${ordinal}, so a scale no longer shows all that was wound.`,
      'Its mass stays as computed from length, diameter and density. Weigh the next spool before its first cut.',
    );
}

function checkWeighing({ grossG, tareG, uncertaintyG }: WeighingInput): void {
  const refuse = (what: string, remedy: string, pointer: keyof WeighingInput) => {
    throw new Problem('bad-length', what, remedy, { pointer: `/${pointer}` });
  };
  const netG = grossG - tareG;
  if (!(netG > 0) || !Number.isFinite(netG))
    refuse(
      `The spool weighs ${grossG} g with its strand and ${tareG} g without.`,
      'Give the mass of the spool with its strand, and below it that of the empty spool.',
      'grossG',
    );
  if (!(uncertaintyG >= 0) || uncertaintyG > SHARE_MAX * netG)
    refuse(
      `An uncertainty of ${uncertaintyG} g on ${netG.toFixed(1)} g is too large.`,
      `Give grams from 0 to ${(SHARE_MAX * 100).toFixed(0)} % of the strand’s mass; use a finer scale.`,
      'uncertaintyG',
    );
}

function netText({ grossG, tareG }: WeighingInput): string {
  return `${(grossG - tareG).toFixed(1)} g`;
}
