import { lengthText } from '../plan/landmark-hint.ts';
import { atMost, missedShareAtMost } from './missed-blobs.ts';

/** Strand that a print may be made of. Distances in mm from the end that is printed first. */
export interface PrintStrand {
  readonly lengthMm: number;
  /** Stretches that are surely too thick for the hotend. */
  readonly tooThickAtMm: readonly number[];
  /** Stretches that may be too thick, within the uncertainty of the gauge. */
  readonly inDoubtAtMm: readonly number[];
  readonly unmeasured: readonly { readonly fromMm: number; readonly toMm: number }[];
}

/** What the gauge found on the whole spool, by which the blobs that it missed are estimated. */
export interface FoundBlobs {
  readonly count: number;
  readonly measuredMm: number;
  /** Distance between two readings; null = not known. */
  readonly pitchMm: number | null;
  /** Standard deviation of its readings; null = not known. */
  readonly noiseMm: number | null;
}

export interface JamChance {
  /** Stretches in the strand of the print that are surely too thick: with one, it will jam. */
  readonly tooThick: number;
  readonly inDoubt: number;
  readonly unmeasuredMm: number;
  /** Where the first stretch is that is surely too thick; null = none on this strand. */
  readonly firstTooThickAtMm: number | null;
  /** Largest chance that the print meets a blob that the gauge missed, one-sided with 95 % confidence; null = not known. */
  readonly missedAtMost: number | null;
  readonly sentence: string;
}

/**
 * Whether a print meets a stretch that jams the hotend. Where the strand was measured, what is known to be there decides. What
 * remains are blobs that the gauge missed. They occur at random (Poisson): found blobs · missed share / found share on the
 * measured length, with the bounds of both.
 *
 * @returns null where no strand was measured
 */
export function jamChance(strand: PrintStrand, found: FoundBlobs, printMm: number): JamChance | null {
  if (!(printMm >= 0)) throw new RangeError(`the length of a print must be 0 or above, not ${printMm} mm`);
  if (!(found.measuredMm > 0 && strand.lengthMm > 0)) return null;
  const endMm = Math.min(printMm, strand.lengthMm);
  const within = (places: readonly number[]) => places.filter((mm) => mm < endMm).length;
  const unmeasuredMm = strand.unmeasured.reduce(
    (sum, { fromMm, toMm }) => sum + Math.max(0, Math.min(endMm, toMm) - Math.max(0, fromMm)),
    0,
  );
  const known = {
    tooThick: within(strand.tooThickAtMm),
    inDoubt: within(strand.inDoubtAtMm),
    unmeasuredMm,
    firstTooThickAtMm: strand.tooThickAtMm.length === 0 ? null : Math.min(...strand.tooThickAtMm),
    missedAtMost: missedAtMost(found, endMm),
  };
  return { ...known, sentence: sentenceFor(known, printMm, strand.lengthMm) };
}

function missedAtMost({ count, measuredMm, pitchMm, noiseMm }: FoundBlobs, printMm: number): number | null {
  if (pitchMm === null || !(pitchMm > 0)) return null;
  const share = missedShareAtMost(pitchMm, noiseMm);
  if (share >= 1) return null;
  return -Math.expm1((-atMost(count) * (share / (1 - share)) * printMm) / measuredMm);
}

function sentenceFor(chance: Omit<JamChance, 'sentence'>, printMm: number, lengthMm: number): string {
  const { tooThick, inDoubt, unmeasuredMm, firstTooThickAtMm } = chance;
  const print = `A print of ${(printMm / 1000).toFixed(1)} m`;
  const short = printMm > lengthMm ? ` Only ${lengthText(lengthMm)} is available, less than it needs.` : '';
  if (tooThick > 0) {
    const many = tooThick === 1 ? 'one stretch that is' : `${tooThick} stretches that are`;
    return `${print} will jam: its strand has ${many} certainly too thick, the first after ${lengthText(firstTooThickAtMm ?? 0)}.${short}`;
  }
  const first = firstTooThickAtMm === null ? '' : ` The first one comes after ${lengthText(firstTooThickAtMm)}.`;
  const doubt =
    inDoubt === 0
      ? ''
      : ` ${inDoubt === 1 ? 'One stretch' : `${inDoubt} stretches`} may be too thick, within the uncertainty of the gauge.`;
  const blind =
    unmeasuredMm > 0 ? ` ${lengthText(unmeasuredMm)} of it was not reliably measured: it may hide blobs.` : '';
  return `${print} contains no stretch known to be too thick.${first}${doubt}${blind} ${missedText(chance.missedAtMost)}${short}`;
}

function missedText(share: number | null): string {
  return share === null
    ? 'Readings are too far apart to say how many blobs the gauge missed.'
    : `The chance that it contains a blob that the gauge missed is ${percent(share)} at most (95 % confidence).`;
}

/** Rounded up, since it is a bound. */
function percent(share: number): string {
  const value = share * 100;
  const digits = value >= 10 ? 0 : value >= 0.1 ? 1 : 3;
  return `${(Math.ceil(value * 10 ** digits - 1e-9) / 10 ** digits).toFixed(digits)} %`;
}
