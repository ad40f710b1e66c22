import type { Static } from 'typebox';
import { BIN_KEPT_DAYS } from '../../entities/bin.ts';
import { routes } from './route-table.ts';
import { component, IdParam, int, list, num, oneOf, orNull, text } from './schema.ts';

export const BinnedView = component(
  'Binned',
  {
    kind: oneOf(['run', 'spool']),
    id: int(),
    runId: int(),
    ordinal: orNull(int(), 'Number of a spool within its run; null = it is a run'),
    startedMs: num(),
    timeZone: text(),
    deletedMs: num(),
    deletedBy: text(),
    removedMs: num({ description: 'When it is removed for good; later if the service has run on fewer days since' }),
  },
  'A deleted run or spool.',
);
export type BinnedView = Static<typeof BinnedView>;

/** Deleting runs and spools, and restoring them. */
export const bin = routes({
  'GET /api/bin': {
    operationId: 'listBin',
    tag: 'runs',
    right: 'watch',
    summary: 'List deleted runs and spools, most recently deleted first',
    description: 'The spools of a deleted run are not listed separately.',
    answers: { 200: list(BinnedView) },
  },
  'DELETE /api/runs/:id': {
    operationId: 'deleteRun',
    tag: 'runs',
    right: 'manage',
    summary: 'Delete a run that has ended',
    description: `With all its spools. It can be restored for ${BIN_KEPT_DAYS} days; then it is removed for good, with its readings, and the space is freed.`,
    params: IdParam,
    answers: { 204: null },
  },
  'POST /api/runs/:id/restore': {
    operationId: 'restoreRun',
    tag: 'runs',
    right: 'manage',
    summary: 'Restore a deleted run',
    description: 'As it was before it was deleted.',
    params: IdParam,
    answers: { 204: null },
  },
  'DELETE /api/spools/:id': {
    operationId: 'deleteSpool',
    tag: 'spools',
    right: 'manage',
    summary: 'Delete a spool of an ended run',
    description: `It can be restored for ${BIN_KEPT_DAYS} days. The readings of its strand stay in the run.`,
    params: IdParam,
    answers: { 204: null },
  },
  'POST /api/spools/:id/restore': {
    operationId: 'restoreSpool',
    tag: 'spools',
    right: 'manage',
    summary: 'Restore a deleted spool',
    description: 'With everything that users stated about it.',
    params: IdParam,
    answers: { 204: null },
  },
});
