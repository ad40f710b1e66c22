import { Type } from 'typebox';
import { CUT_OUT_MAX_MM } from '../../strand/cut-out.ts';
import { routes } from './route-table.ts';
import { SectionInput, SectionView, SpoolDetail, SpoolRow, SpoolView, Wanted } from './runs-and-spools.ts';
import { IdParam, input, int, list, num, orNull, text } from './schema.ts';

const SectionParams = input({
  id: int({ minimum: 1 }),
  section: text({
    pattern: '^([mp][0-9]{1,9}|j-?[0-9]{1,12})$',
    description: 'm12 = recorded, p5 = marked by a user, j12345 = found by the limits of the chosen printer',
  }),
});

const StatedParams = input({
  id: int({ minimum: 1 }),
  section: text({ pattern: '^[mp][0-9]{1,9}$', description: 'm12 = recorded, p5 = marked by a user, or a joint' }),
});

/** Gauge length does not depend on where the spool starts, so repeating a request cannot move the place. */
const gaugePlace = num({
  description:
    'Gauge length, mm, as counted by the line: startGaugeMm of the spool + position on it / lengthFactor + the cutOuts before it',
});

/** A spool and what users state about it. */
export const spools = routes({
  'GET /api/spools': {
    operationId: 'listSpools',
    tag: 'spools',
    right: 'watch',
    summary: 'List all spools, those of the newest run first',
    description: 'Each with its figures and its verdict for the printer chosen for it.',
    query: input({ newest: Type.Optional(int({ minimum: 1, description: 'At most this many; left out = all' })) }),
    answers: { 200: list(SpoolRow) },
  },
  'GET /api/spools/:id': {
    operationId: 'getSpool',
    tag: 'spools',
    right: 'watch',
    summary: 'Get one spool',
    description: 'With its sections, totals and verdict for the printer chosen for it.',
    params: IdParam,
    answers: { 200: SpoolDetail },
  },
  'PUT /api/spools/:id/note': {
    operationId: 'writeSpoolNote',
    tag: 'spools',
    right: 'act',
    summary: 'Save the note of a spool',
    description: 'Replaces the previous note, which stays in the log.',
    params: IdParam,
    body: input({ note: text({ maxLength: 2000 }) }),
    answers: { 200: SpoolView },
  },
  'PUT /api/spools/:id/title': {
    operationId: 'nameSpool',
    tag: 'spools',
    right: 'act',
    summary: 'Name a spool',
    description: 'Beside its number, which stays. An empty name removes it.',
    params: IdParam,
    body: input({ title: text({ maxLength: 80 }) }),
    answers: { 200: SpoolView },
  },
  'PUT /api/spools/:id/wanted': {
    operationId: 'wantOnSpool',
    tag: 'spools',
    right: 'act',
    summary: 'State how much strand is wanted on a spool',
    description: 'An alarm is raised when the spool being wound holds it. null = none is raised.',
    params: IdParam,
    body: input({ wanted: orNull(Wanted) }),
    answers: { 204: null },
  },
  'POST /api/spools/:id/start': {
    operationId: 'moveSpoolStart',
    tag: 'spools',
    right: 'act',
    summary: 'Correct where a spool starts',
    description: 'Moves the start to a later place, or to an earlier one that belongs to no other spool.',
    params: IdParam,
    body: input({ startGaugeMm: gaugePlace }),
    answers: { 200: SpoolView },
  },
  'POST /api/spools/:id/split': {
    operationId: 'splitSpool',
    tag: 'spools',
    right: 'act',
    summary: 'Split a spool where a spool change was missed',
    description: 'Only for the last spool of a run. The strand after that place becomes the next spool.',
    params: IdParam,
    body: input({ atGaugeMm: gaugePlace }),
    answers: { 201: SpoolView },
  },
  'POST /api/spools/:id/sections': {
    operationId: 'markSection',
    tag: 'spools',
    right: 'act',
    summary: 'Mark a stretch',
    description: 'As good, doubtful or discard.',
    params: IdParam,
    body: SectionInput,
    answers: { 201: SectionView },
  },
  'PUT /api/spools/:id/sections/:section': {
    operationId: 'adjustSection',
    tag: 'spools',
    right: 'act',
    summary: 'Adjust a stretch, measured or marked',
    description: 'The measured values stay in the record.',
    params: SectionParams,
    body: SectionInput,
    answers: { 200: SectionView },
  },
  'DELETE /api/spools/:id/sections/:section': {
    operationId: 'removeSection',
    tag: 'spools',
    right: 'act',
    summary: 'Dismiss a measured stretch, or remove a marked one',
    description: 'Can be undone with `POST …/restore`.',
    params: SectionParams,
    answers: { 204: null },
  },
  'PUT /api/spools/:id/sections/:section/dismissal': {
    operationId: 'dismissSection',
    tag: 'spools',
    right: 'act',
    summary: 'Dismiss a stretch and say why',
    description: 'Or say why one was dismissed, or something else. Can be undone with `POST …/restore`.',
    params: SectionParams,
    body: input({ reason: text({ maxLength: 500, description: 'Empty = none' }) }),
    answers: { 204: null },
  },
  'POST /api/spools/:id/sections/:section/cut-out': {
    operationId: 'cutOutSection',
    tag: 'spools',
    right: 'act',
    summary: 'State that a stretch was cut out before it was wound',
    description:
      'And that the ends were joined. That strand has no length on the spool: all later positions, the length and the weight shift by it. Returns the joint. For a recorded or marked stretch, also between gauge and winder.',
    params: StatedParams,
    body: input({
      lengthMm: num({
        minimum: 1,
        maximum: CUT_OUT_MAX_MM,
        description: 'As cut out, around the middle of the stretch',
      }),
    }),
    answers: { 200: SectionView },
  },
  'POST /api/spools/:id/sections/:section/leave': {
    operationId: 'leaveSection',
    tag: 'spools',
    right: 'act',
    summary: 'State that a stretch was left on the spool',
    description:
      'It stays in the cut list. The last decision about what an alarm reports, this one or a cut, acknowledges that alarm.',
    params: StatedParams,
    answers: { 200: SectionView },
  },
  'DELETE /api/spools/:id/sections/:section/decision': {
    operationId: 'undoDecision',
    tag: 'spools',
    right: 'act',
    summary: 'Undo that a stretch was cut out or left on the spool',
    description: 'For strand that was cut out, give the id of the joint. Refused if it was undone already.',
    params: StatedParams,
    answers: { 204: null },
  },
  'POST /api/spools/:id/sections/:section/restore': {
    operationId: 'restoreSection',
    tag: 'spools',
    right: 'act',
    summary: 'Undo what users stated about a stretch',
    description: 'Restores the stretch as it was measured, or as it was first marked.',
    params: SectionParams,
    answers: { 200: SectionView },
  },
});
