import { type Static, Type } from 'typebox';
import { routes } from './route-table.ts';
import { bytes, IdParam, int, list, named, num, oneOf, orNull, text, yes } from './schema.ts';

/** A run on its way from one installation to another. */
export const ARCHIVE_TYPE = 'application/vnd.strandward.run';
/** A run of several days. */
export const ARCHIVE_BYTES_MAX = 2 ** 30;

export const RecordHealth = named('RecordHealth', {
  recordBytes: num(),
  freeBytes: num(),
  backupFolder: text(),
  scheduled: yes('Backups are made automatically: a folder was given at start'),
  backups: list(Type.Object({ path: text(), timeMs: num(), bytes: num() })),
  backupTrouble: orNull(text()),
  busy: orNull(oneOf(['backup', 'check'])),
  check: orNull(Type.Object({ timeMs: num(), faults: list(text()) })),
});

export type RecordHealth = Static<typeof RecordHealth>;

/** The record: its size, its backups, its health, and runs that leave or enter it as archives. */
export const record = routes({
  'GET /api/record': {
    operationId: 'getRecordHealth',
    tag: 'set-up',
    summary: 'Size, backups and health of the record',
    description: 'And what is being done with it now.',
    answers: { 200: RecordHealth },
  },
  'POST /api/record/backup': {
    operationId: 'backUpRecord',
    tag: 'set-up',
    summary: 'Make a backup now',
    description: 'Answers when the backup is made and checked.',
    answers: { 200: RecordHealth },
  },
  'POST /api/record/check': {
    operationId: 'checkRecord',
    tag: 'set-up',
    summary: 'Check the whole record',
    description: 'Reads all of it; answers when that is done, with the faults it found.',
    answers: { 200: RecordHealth },
  },
  'GET /api/runs/:id/archive': {
    operationId: 'downloadRunArchive',
    tag: 'runs',
    summary: 'Download an ended run as one file',
    description: 'With everything about it; another Strandward can import it.',
    params: IdParam,
    answers: { 200: bytes() },
    produces: [ARCHIVE_TYPE],
    ticket: true,
  },
  'POST /api/runs/import': {
    operationId: 'importRunArchive',
    tag: 'runs',
    summary: 'Import an archive of a run',
    description: 'The body is the bytes of the file. The run gets a number of its own, which is the answer.',
    consumes: [ARCHIVE_TYPE],
    bodyBytesMax: ARCHIVE_BYTES_MAX,
    answers: { 201: Type.Object({ id: int() }) },
  },
});
