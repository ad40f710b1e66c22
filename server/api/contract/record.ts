import { type Static, Type } from 'typebox';
import { SIZE_SENTENCE } from './exports.ts';
import { routes } from './route-table.ts';
import { bool, bytes, component, IdParam, input, int, list, num, numOrNull, oneOf, orNull, text } from './schema.ts';

/** An archive of a run, to move it from one installation to another. */
export const ARCHIVE_TYPE = 'application/vnd.strandward.run';
/** A run of several days. */
export const ARCHIVE_BYTES_MAX = 2 ** 30;

export const RecordHealth = component('RecordHealth', {
  recordBytes: num(),
  freeBytes: num(),
  backupFolder: text(),
  scheduled: bool('Backups are made automatically, because a folder was set at the start'),
  backups: list(Type.Object({ path: text(), timeMs: num(), bytes: num() })),
  backupProblem: orNull(text(), 'Why the last backup failed; null = it did not'),
  busy: orNull(oneOf(['backup', 'check'])),
  check: orNull(Type.Object({ timeMs: num(), faults: list(text()) })),
  rollingCheck: orNull(
    Type.Object({
      lastMs: num({ description: 'When a part was last read' }),
      read: int({ description: 'Groups of rows, blocks and summaries read in this round' }),
      total: int({ description: 'All there are' }),
      faults: list(text(), 'Found in this round'),
      completeMs: numOrNull({ description: 'When everything had last been read; null = not yet' }),
    }),
    'The check that reads some of the record each day, and everything within a month; null = not begun',
  ),
});

export type RecordHealth = Static<typeof RecordHealth>;

const ImportedRun = component('ImportedRun', {
  id: int(),
  alreadyHere: bool('Nothing was imported: it is here under this id'),
});

/** The record: size, backups and health, and runs exported and imported as archives. */
export const record = routes({
  'GET /api/record': {
    operationId: 'getRecordHealth',
    tag: 'set-up',
    right: 'watch',
    summary: 'Get size, backups and health of the record',
    description: 'Also states whether a backup or a check is in progress.',
    answers: { 200: RecordHealth },
  },
  'POST /api/record/backup': {
    operationId: 'backUpRecord',
    tag: 'set-up',
    right: 'manage',
    summary: 'Make a backup now',
    description: 'Responds when the backup is complete and checked.',
    answers: { 200: RecordHealth },
  },
  'POST /api/record/check': {
    operationId: 'checkRecord',
    tag: 'set-up',
    right: 'manage',
    summary: 'Check the whole record',
    description: 'Reads the whole record, then responds with the faults found.',
    answers: { 200: RecordHealth },
  },
  'GET /api/runs/:id/archive': {
    operationId: 'downloadRunArchive',
    tag: 'runs',
    right: 'watch',
    summary: 'Download an ended run as one file',
    description: `Contains everything about the run; another Strandward can import it. ${SIZE_SENTENCE}`,
    params: IdParam,
    answers: { 200: bytes() },
    produces: [ARCHIVE_TYPE],
  },
  'POST /api/runs/import': {
    operationId: 'importRunArchive',
    tag: 'runs',
    right: 'manage',
    summary: 'Import an archive of a run',
    description:
      'The body is the content of the file. The run gets a new id, which is returned. If the record has this run already, nothing is imported, and its id is returned with status 200. Closing the connection cancels the import.',
    query: input({ again: Type.Optional(bool('Import it as another run, even if it is here already')) }),
    consumes: [ARCHIVE_TYPE],
    bodyBytesMax: ARCHIVE_BYTES_MAX,
    answers: { 201: ImportedRun, 200: ImportedRun },
  },
});
