import type { LengthCorrection, Spool } from '../../entities/spool.ts';
import { Problem } from '../../problem/problem.ts';
import type { Clock } from '../clock.ts';
import type { RecordWriter } from '../ports/record.ts';
import type { SpoolStatements } from '../ports/spool-statements.ts';

/** True length = factor × counted length. */
export interface LengthScale {
  readonly factor: number;
  /** Uncertainty of a length as a share of it, k = 2. */
  readonly share: number;
}

/** A larger factor means that the lengths are of different stretches or in different units. */
const FACTOR_MAX = 1.5;
/** A measurement with more uncertainty than this corrects nothing. */
const SHARE_MAX = 0.1;

/**
 * How far the length that a line counts may be off until it was measured by tape, k = 2: the puller's diameter and its slip.
 * Common practice, no source.
 */
const UNMEASURED_SHARE = 0.02;

/** What the best class of tape may be off by: class I of Directive 2014/32/EU, annex X (MI-008), 0.1 mm + 0.1 mm a metre. */
const leastErrorMm = (lengthMm: number): number => 0.1 + 0.0001 * lengthMm;

/** Without a tape measurement the counted length is used. */
export function lengthScaleOf(correction: LengthCorrection | null): LengthScale {
  if (correction === null) return { factor: 1, share: UNMEASURED_SHARE };
  return {
    factor: correction.measuredMm / correction.indicatedMm,
    share: Math.max(correction.uncertaintyMm, leastErrorMm(correction.measuredMm)) / correction.measuredMm,
  };
}

export interface LengthServiceParts {
  readonly writer: Pick<RecordWriter, 'log'>;
  readonly statements: SpoolStatements;
  readonly clock: Clock;
  /** Called after each change, so that open pages load the spool again. */
  changed(): void;
}

/** Lets users correct the length of a spool by a tape measurement. Append only. */
export class LengthService {
  readonly #parts: LengthServiceParts;

  constructor(parts: LengthServiceParts) {
    this.#parts = parts;
  }

  of(spoolId: number): LengthCorrection | null {
    return this.#parts.statements.lengthCorrection(spoolId);
  }

  /** @throws Problem `bad-length`; `wrong-state` while the spool is being wound */
  correct(spool: Spool, correction: Omit<LengthCorrection, 'atMs' | 'who'>, who: string): void {
    if (spool.endGaugeMm === null) {
      throw new Problem(
        'wrong-state',
        `Spool ${spool.ordinal} is still being wound, so it cannot have been measured by tape.`,
        'Take it off the winder first: end the spool on the live page.',
      );
    }
    checkCorrection(correction);
    const { statements, clock } = this.#parts;
    statements.correctLength(spool.id, correction, clock(), who);
    this.#parts.changed();
    const factor = correction.measuredMm / correction.indicatedMm;
    this.#log(
      spool,
      who,
      `Measured ${metres(correction.measuredMm)} of spool ${spool.ordinal} by tape where the line counted ${metres(correction.indicatedMm)}: lengths × ${factor.toFixed(4)}.`,
    );
  }

  /** Removes the correction. */
  takeBack(spool: Spool, who: string): void {
    if (this.of(spool.id) === null) return;
    this.#parts.statements.correctLength(spool.id, null, this.#parts.clock(), who);
    this.#parts.changed();
    this.#log(spool, who, `Removed the tape measurement of spool ${spool.ordinal}.`);
  }

  #log(spool: Spool, who: string, what: string): void {
    this.#parts.writer.log({ timeMs: this.#parts.clock(), runId: spool.runId, who, what });
  }
}

function checkCorrection({ measuredMm, indicatedMm, uncertaintyMm }: Omit<LengthCorrection, 'atMs' | 'who'>): void {
  for (const [name, value] of [
    ['measured', measuredMm],
    ['indicated', indicatedMm],
  ] as const) {
    if (!(value > 0) || !Number.isFinite(value))
      throw new Problem('bad-length', `The ${name} length is ${value} mm.`, 'Give a length above 0, in mm.', {
        pointer: `/${name}Mm`,
      });
  }
  if (!(uncertaintyMm > 0))
    throw new Problem(
      'bad-length',
      `The measurement cannot be accurate to ${uncertaintyMm} mm: no tape is exact.`,
      `Give how far your tape may be off over ${metres(measuredMm)}, plus the smallest length that you can read on it.`,
      { pointer: '/uncertaintyMm' },
    );
  if (uncertaintyMm > SHARE_MAX * measuredMm)
    throw new Problem(
      'bad-length',
      `An uncertainty of ${uncertaintyMm} mm on ${measuredMm} mm is too large for a correction.`,
      `Give at most ${(SHARE_MAX * 100).toFixed(0)} % of the measured length; measure a longer stretch.`,
      { pointer: '/uncertaintyMm' },
    );
  const factor = measuredMm / indicatedMm;
  if (factor > FACTOR_MAX || factor < 1 / FACTOR_MAX)
    throw new Problem(
      'bad-length',
      `${measuredMm} mm by tape for ${indicatedMm} mm counted is a factor of ${factor.toFixed(3)}.`,
      'Check that both are of the same stretch and in mm. If the counter is that far off, adjust it first.',
      { pointer: '/measuredMm' },
    );
}

function metres(mm: number): string {
  return `${(mm / 1000).toFixed(3)} m`;
}
