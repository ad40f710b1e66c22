import type { Database } from 'better-sqlite3';
import type { SpoolStatements } from '../monitor/ports/spool-statements.ts';
import { coilNameTable } from './record/coil-names.ts';
import { cutTable } from './record/cuts.ts';
import { examinationTable } from './record/examinations.ts';
import { lengthCorrectionTable, weighingTable } from './record/measurements.ts';
import { printerTable } from './record/printers.ts';
import { spoolChoiceTable } from './record/spool-choices.ts';
import { strandUseTable } from './record/strand-uses.ts';
import type { UnreadableRows } from './record/unreadable-rows.ts';
import { guardedAt } from './record-failing.ts';

/**
 * Printers, and what users state about spools after winding.
 * @param path of the database, for error messages
 * @throws RecordFailing if the disk is full or fails; Problem unknown-printer
 */
export function spoolStatements(db: Database, path: string, unreadable: UnreadableRows): SpoolStatements {
  const printers = printerTable(db, unreadable);
  const cuts = cutTable(db, unreadable);
  const coilNames = coilNameTable(db, unreadable);
  const choices = spoolChoiceTable(db, unreadable);
  const corrections = lengthCorrectionTable(db, unreadable);
  const examinations = examinationTable(db);
  const uses = strandUseTable(db, unreadable);
  const weighings = weighingTable(db, unreadable);
  const guarded = guardedAt(path);
  return {
    printers: printers.all,
    printer: printers.find,
    addPrinter: guarded(printers.add),
    changePrinter: guarded(printers.change),
    removePrinter: guarded(printers.remove),
    cuts: cuts.all,
    addCuts: guarded(cuts.add),
    takeBackLastCut: guarded(cuts.takeBackLast),
    uses: uses.all,
    addUse: guarded(uses.add),
    takeBackUse: guarded(uses.takeBack),
    useTakenBackBy: uses.takenBackBy,
    coilNames: coilNames.all,
    nameCoil: guarded(coilNames.add),
    placeCoilName: guarded(coilNames.place),
    choices: choices.find,
    choose: guarded(choices.add),
    examination: examinations.find,
    keepExamination: guarded(examinations.keep),
    lengthCorrection: corrections.find,
    correctLength: guarded(corrections.add),
    weighing: weighings.find,
    weigh: guarded(weighings.add),
  };
}
