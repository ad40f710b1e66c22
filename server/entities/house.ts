/**
 * The code of a house is printed in front of the names of its spools and coils, so that two houses never print the same name.
 * It has no characters that are easily confused in print or by hand: 0 O, 1 I L, 2 Z, 5 S, 8 B, U V.
 */
export const HOUSE_CODE_LETTERS = '34679ACDEFGHJKMNPQRTWXY';

/** Starts the code given to a house that is not known: older archives do not name it. No house makes such a code. */
export const UNKNOWN_HOUSE = '0';

export function isHouseCode(text: string): boolean {
  return /^[0-9A-Z]{3}$/.test(text);
}

/** Which house made a run, and the number that it has there. */
export interface RunOrigin {
  /** null = this house: the run was exported, and came back under a new id. */
  readonly house: string | null;
  readonly number: number;
}

/** What a printed code stands for: "K7M-R3-1" is spool 1 of run 3 of house K7M, "K7M-R3-1-A" its coil A. */
export interface PrintedCode {
  readonly house: string;
  readonly run: number;
  readonly spool: number;
  /** null = the spool itself. */
  readonly coil: string | null;
}

/** @returns null = it is no such code */
export function readCode(code: string): PrintedCode | null {
  const parts = /^([0-9A-Z]{3})-R([1-9]\d{0,8})-([1-9]\d{0,5})(?:[- ]([A-Z]{1,3}))?$/.exec(code.trim().toUpperCase());
  if (parts === null) return null;
  const [, house = '', run, spool, coil] = parts;
  return { house, run: Number(run), spool: Number(spool), coil: coil ?? null };
}
