import { routes } from './route-table.ts';
import { SectionInput, SectionView, SpoolDetail, SpoolView } from './runs-and-spools.ts';
import { given, IdParam, int, num, text } from './schema.ts';

const SectionParams = given({
  id: int({ minimum: 1 }),
  section: text({
    pattern: '^([mp][0-9]{1,9}|j-?[0-9]{1,12})$',
    description: 'm12 = recorded, p5 = marked by a user, j12345 = the limits of the chosen printer show it',
  }),
});

/** Does not move when the start of a spool does: repeated, it is the same place. */
const gaugePlace = num({
  description: 'Gauge length, mm, as the line counted: startGaugeMm of the spool + position on it / lengthFactor',
});

/** A spool and what users state about it. */
export const spools = routes({
  'GET /api/spools/:id': {
    operationId: 'getSpool',
    tag: 'spools',
    summary: 'One spool',
    description: 'With its sections, totals and verdict, by the printer that is chosen for it.',
    params: IdParam,
    answers: { 200: SpoolDetail },
  },
  'PUT /api/spools/:id/note': {
    operationId: 'writeSpoolNote',
    tag: 'spools',
    summary: 'Write the note of a spool',
    description: 'In place of the one before, which the log keeps.',
    params: IdParam,
    body: given({ note: text({ maxLength: 2000 }) }),
    answers: { 200: SpoolView },
  },
  'POST /api/spools/:id/start': {
    operationId: 'moveSpoolStart',
    tag: 'spools',
    summary: 'Correct where a spool starts',
    description: 'Later, or earlier on strand that passed before it.',
    params: IdParam,
    body: given({ startGaugeMm: gaugePlace }),
    answers: { 200: SpoolView },
  },
  'POST /api/spools/:id/split': {
    operationId: 'splitSpool',
    tag: 'spools',
    summary: 'State afterwards that the spool was changed',
    description: 'Of the last spool of a run: what lies behind that place is the next one.',
    params: IdParam,
    body: given({ atGaugeMm: gaugePlace }),
    answers: { 201: SpoolView },
  },
  'POST /api/spools/:id/sections': {
    operationId: 'markSection',
    tag: 'spools',
    summary: 'Mark a stretch',
    description: 'As good, doubtful or to discard.',
    params: IdParam,
    body: SectionInput,
    answers: { 201: SectionView },
  },
  'PUT /api/spools/:id/sections/:section': {
    operationId: 'adjustSection',
    tag: 'spools',
    summary: 'Adjust a stretch, measured or marked',
    description: 'What was measured stays in the record.',
    params: SectionParams,
    body: SectionInput,
    answers: { 200: SectionView },
  },
  'DELETE /api/spools/:id/sections/:section': {
    operationId: 'removeSection',
    tag: 'spools',
    summary: 'Dismiss a measured stretch, or remove a marked one',
    description: 'It can be restored.',
    params: SectionParams,
    answers: { 204: null },
  },
  'POST /api/spools/:id/sections/:section/restore': {
    operationId: 'restoreSection',
    tag: 'spools',
    summary: 'Undo what users stated about a stretch',
    description: 'It counts again as it was measured, or as it was first marked.',
    params: SectionParams,
    answers: { 200: SectionView },
  },
});
