import { WINDOW_TYPE } from '../../monitor/ports/window-bytes.ts';
import { routes } from './route-table.ts';
import { LotInput, RunDetail, RunView, WindowView } from './runs-and-spools.ts';
import { given, IdParam, int, list, num, oneOf, text, withDefault, yes } from './schema.ts';

const COLUMNS_MAX = 4000;

/** Runs of the past and the present, and windows of their readings. */
export const runs = routes({
  'GET /api/runs': {
    operationId: 'listRuns',
    tag: 'runs',
    summary: 'All runs, newest first',
    description: 'Each by the limits of its night.',
    answers: { 200: list(RunView) },
  },
  'GET /api/runs/:id': {
    operationId: 'getRun',
    tag: 'runs',
    summary: 'One run',
    description: 'With its spools and sections by the limits of its night, its alarms and log.',
    params: IdParam,
    answers: { 200: RunDetail },
  },
  'GET /api/runs/:id/window': {
    operationId: 'getWindow',
    tag: 'runs',
    summary: 'Readings of a run in equal columns',
    description: 'Of time (UTC ms) or gauge length (mm), with true extremes.',
    params: IdParam,
    query: given({
      axis: oneOf(['time', 'length']),
      from: num(),
      to: num(),
      columns: withDefault(int({ minimum: 1, maximum: COLUMNS_MAX }), 800),
      channels: text({ minLength: 1, maxLength: 1000, description: 'Names, separated by commas: d,t1,s1' }),
      spread: withDefault(yes('Standard deviations too'), false),
    }),
    answers: { 200: WindowView },
    produces: ['application/json', WINDOW_TYPE],
  },
  'PUT /api/runs/:id/note': {
    operationId: 'writeRunNote',
    tag: 'runs',
    summary: 'Write the note of a run',
    description: 'In place of the one before.',
    params: IdParam,
    body: given({ note: text({ maxLength: 5000 }) }),
    answers: { 200: RunView },
  },
  'PUT /api/runs/:id/lot': {
    operationId: 'nameMaterial',
    tag: 'runs',
    summary: 'Enter the material of a run',
    description: 'What the run was fed with and how that was prepared; earlier entries stay in the record.',
    params: IdParam,
    body: LotInput,
    answers: { 200: RunView },
  },
});
