import type { Printer } from '../../entities/printer.ts';
import type { CoilName, KeptCut, LengthCorrection, SpoolChoices } from '../../entities/spool.ts';

/**
 * What people said about printers, and about a spool after it was wound. Cuts, names and measurements are only ever
 * appended: taking one back is a word of its own. Every call is durable when it returns, or throws.
 */
export interface SpoolStatements {
  /** By name. */
  printers(): readonly Printer[];
  printer(id: number): Printer | null;
  addPrinter(printer: Omit<Printer, 'id'>, atMs: number): Printer;
  changePrinter(printer: Printer, atMs: number): void;
  removePrinter(id: number, atMs: number): void;
  /** Those that count, in the order in which they were made. */
  cuts(spoolId: number): readonly KeptCut[];
  addCut(spoolId: number, cut: Omit<KeptCut, 'id'>): KeptCut;
  /** The last cut no longer counts. Null = there was none. */
  takeBackLastCut(spoolId: number, atMs: number, who: string): KeptCut | null;
  /** All names that were ever given, oldest first. */
  coilNames(spoolId: number): readonly CoilName[];
  nameCoil(spoolId: number, given: Omit<CoilName, 'id'>, atMs: number, who: string): void;
  /** Where a name that was given by number lies. */
  placeCoilName(id: number, place: NonNullable<CoilName['place']>): void;
  /** null = nothing was chosen for this spool. */
  choices(spoolId: number): SpoolChoices | null;
  choose(spoolId: number, choices: SpoolChoices, atMs: number, who: string): void;
  /** What was kept of reading all of a spool with these inputs, as a plain object; null = nothing that can be read. */
  examination(spoolId: number, inputs: string): unknown;
  keepExamination(spoolId: number, inputs: string, examination: object): void;
  /** The last one; null = none, or taken away. */
  lengthCorrection(spoolId: number): LengthCorrection | null;
  /** null takes the correction away. */
  correctLength(
    spoolId: number,
    correction: Omit<LengthCorrection, 'atMs' | 'who'> | null,
    atMs: number,
    who: string,
  ): void;
}
