import { ReadingIntake } from '../reading/intake.ts';
import type { IntakeSink } from '../reading/intake-options.ts';

/** How well bytes that were received at some baud rate look like what a sketch prints. */
export interface RateFit {
  readonly bytes: number;
  /** Share of printable bytes, 0…1. */
  readonly textShare: number;
  readonly lineEnds: number;
  /** Readings that could be recognised. */
  readonly readings: number;
}

/** What is needed of lines with readings … */
const WITH_READINGS = { bytes: 20, lineEnds: 2, textShare: 0.9 };
/** … and of lines without one, which must be nothing but text, or they are chance. */
const WITHOUT_READINGS = { bytes: 20, lineEnds: 3, textShare: 0.98 };
/** After so many bytes that are no text, no more are needed. */
const ENOUGH_BYTES = 64;

/** Judge what arrived at a rate. The readings are only counted; they are recorded nowhere. */
export function rateFit(bytes: Uint8Array): RateFit {
  let printable = 0;
  let lineEnds = 0;
  for (const byte of bytes) {
    if ((byte >= 32 && byte < 127) || byte === 9 || byte === 10 || byte === 13) printable++;
    if (byte === 10) lineEnds++;
  }
  return {
    bytes: bytes.length,
    textShare: bytes.length === 0 ? 0 : printable / bytes.length,
    lineEnds,
    readings: readingsIn(bytes),
  };
}

/**
 * The rate is right: lines of text arrive. A sketch in a language with umlauts prints a few bytes beyond ASCII, so not all
 * of them must be printable if there are readings.
 */
export function fitsClearly({ bytes, textShare, lineEnds, readings }: RateFit): boolean {
  const least = readings > 0 ? WITH_READINGS : WITHOUT_READINGS;
  return bytes >= least.bytes && lineEnds >= least.lineEnds && textShare >= least.textShare;
}

/** The rate may be right: not enough has arrived, and it is text so far. */
export function mayFit({ bytes, textShare }: RateFit): boolean {
  return bytes === 0 || textShare >= WITH_READINGS.textShare;
}

/** The rate is wrong, and more bytes would not change that. */
export function fitsClearlyNot(fit: RateFit): boolean {
  return fit.bytes >= ENOUGH_BYTES && !mayFit(fit);
}

/** Readings that a separate intake recognises, so that nothing of a trial gets into the record. */
function readingsIn(bytes: Uint8Array): number {
  const intake = new ReadingIntake({
    shape: 'auto',
    checksum: 'auto',
    columnNames: [],
    roles: [],
    recordedStartMs: 0,
  });
  let readings = 0;
  const sink: IntakeSink = {
    reading: () => {
      readings++;
    },
    note: () => {},
  };
  intake.push(bytes, null, sink);
  return readings;
}
