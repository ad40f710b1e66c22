import type { Database } from 'better-sqlite3';
import type { SpoolStatements } from '../monitor/ports/spool-statements.ts';
import { cutsAndCoils } from './record/cuts-and-coils.ts';
import { examinationTable } from './record/examinations.ts';
import { printerTable } from './record/printers.ts';
import { guardedAt } from './record-failing.ts';

/**
 * Printers, and what users state about spools after winding.
 * @param path of the database, for error messages
 * @throws RecordFailing if the disk is full or fails; Problem unknown-printer
 */
export function spoolStatements(db: Database, path: string): SpoolStatements {
  const printers = printerTable(db);
  const spools = cutsAndCoils(db);
  const examinations = examinationTable(db);
  const guarded = guardedAt(path);
  return {
    printers: printers.all,
    printer: printers.find,
    addPrinter: guarded(printers.add),
    changePrinter: guarded(printers.change),
    removePrinter: guarded(printers.remove),
    cuts: spools.cuts,
    addCut: guarded(spools.addCut),
    takeBackLastCut: guarded(spools.takeBackLastCut),
    coilNames: spools.coilNames,
    nameCoil: guarded(spools.nameCoil),
    placeCoilName: guarded(spools.placeCoilName),
    choices: spools.choices,
    choose: guarded(spools.choose),
    examination: examinations.find,
    keepExamination: guarded(examinations.keep),
    lengthCorrection: spools.lengthCorrection,
    correctLength: guarded(spools.correctLength),
  };
}
