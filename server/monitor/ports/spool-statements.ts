import type { Printer } from '../../entities/printer.ts';
import type { CoilName, KeptCut, LengthCorrection, SpoolChoices, Weighing } from '../../entities/spool.ts';
import type { StrandUse } from '../../entities/strand-use.ts';

/**
 * Statements of users about printers, and about spools after winding. Cuts, names and measurements are only appended;
 * taking one back is another entry. Each call is durable when it returns, or throws.
 */
export interface SpoolStatements {
  /** By name. */
  printers(): readonly Printer[];
  printer(id: number): Printer | null;
  addPrinter(printer: Omit<Printer, 'id'>, atMs: number): Printer;
  changePrinter(printer: Printer, atMs: number): void;
  removePrinter(id: number, atMs: number): void;
  /** Cuts that count, in the order in which they were made. */
  cuts(spoolId: number): readonly KeptCut[];
  /** @param insteadOfLast the last cut no longer counts: these stand for it */
  addCuts(spoolId: number, cuts: readonly Omit<KeptCut, 'id'>[], insteadOfLast: boolean): readonly KeptCut[];
  /** The last cut no longer counts. null = there was none. */
  takeBackLastCut(spoolId: number, atMs: number, who: string): KeptCut | null;
  /** What was taken from its coils or from the spool itself, in the order in which it was stated; only what counts. */
  uses(spoolId: number): readonly StrandUse[];
  addUse(spoolId: number, use: Omit<StrandUse, 'id'>): StrandUse;
  /** The entry no longer counts. @returns false = there is no such entry, or it was taken back before */
  takeBackUse(spoolId: number, id: number, atMs: number, who: string): boolean;
  /** Who took an entry back; null = no one. */
  useTakenBackBy(spoolId: number, id: number): string | null;
  /** All names ever assigned, oldest first. */
  coilNames(spoolId: number): readonly CoilName[];
  nameCoil(spoolId: number, name: Omit<CoilName, 'id'>, atMs: number, who: string): void;
  /** Stores the strand of a name that was assigned by coil number. */
  placeCoilName(id: number, place: NonNullable<CoilName['place']>): void;
  /** null = nothing was chosen for this spool. */
  choices(spoolId: number): SpoolChoices | null;
  choose(spoolId: number, choices: SpoolChoices, atMs: number, who: string): void;
  /** The stored examination of a spool with these inputs, as a plain object; null = none, or unreadable. */
  examination(spoolId: number, inputs: string): unknown;
  keepExamination(spoolId: number, inputs: string, examination: object): void;
  /** The last one; null = none, or removed. */
  lengthCorrection(spoolId: number): LengthCorrection | null;
  /** null removes the correction. */
  correctLength(
    spoolId: number,
    correction: Omit<LengthCorrection, 'atMs' | 'who'> | null,
    atMs: number,
    who: string,
  ): void;
  /** The last one; null = none, or removed. */
  weighing(spoolId: number): Weighing | null;
  /** null removes the weighing. */
  weigh(spoolId: number, weighing: Omit<Weighing, 'atMs' | 'who'> | null, atMs: number, who: string): void;
}
