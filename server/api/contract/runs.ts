import { Type } from 'typebox';
import { WINDOW_TYPE } from '../../monitor/ports/window-bytes.ts';
import { routes } from './route-table.ts';
import {
  LotInput,
  LotsView,
  RelatedReadingsView,
  RunDatesView,
  RunDetail,
  RunView,
  ValueInput,
  WindowView,
} from './runs-and-spools.ts';
import { bool, IdParam, input, int, list, num, oneOf, orNull, text, withDefault } from './schema.ts';

const COLUMNS_MAX = 4000;

/** Past and present runs, and windows of their readings. */
export const runs = routes({
  'GET /api/runs': {
    operationId: 'listRuns',
    tag: 'runs',
    right: 'watch',
    summary: 'List all runs, newest first',
    description: 'Each is judged by the limits in force while it was made.',
    query: input({ newest: Type.Optional(int({ minimum: 1, description: 'At most this many; left out = all' })) }),
    answers: { 200: list(RunView) },
  },
  'GET /api/runs/:id': {
    operationId: 'getRun',
    tag: 'runs',
    right: 'watch',
    summary: 'Get one run',
    description:
      'With its alarms and log, and with its spools and sections, judged by the limits in force while it was made.',
    params: IdParam,
    answers: { 200: RunDetail },
  },
  'GET /api/runs/:id/related': {
    operationId: 'getRelatedReadings',
    tag: 'runs',
    right: 'watch',
    summary: 'Get the signals that moved with the strand',
    description:
      'Signals whose readings moved before or with the diameter, or with the bad stretches, while the run was wound. At most one run in a hundred lists one by chance.',
    params: IdParam,
    answers: { 200: RelatedReadingsView },
  },
  'GET /api/runs/:id/window': {
    operationId: 'getWindow',
    tag: 'runs',
    right: 'watch',
    summary: 'Get readings of a run, summarised in equal columns',
    description: 'By time (UTC ms) or gauge length (mm); the extremes of each column are exact.',
    params: IdParam,
    query: input({
      axis: oneOf(['time', 'length']),
      from: num(),
      to: num(),
      columns: withDefault(int({ minimum: 1, maximum: COLUMNS_MAX }), 800),
      signals: text({
        minLength: 1,
        maxLength: 1000,
        description: 'Names of signals, separated by commas, such as d,t1,s1',
      }),
      spread: withDefault(bool('Also return standard deviations'), false),
    }),
    answers: { 200: WindowView },
    produces: ['application/json', WINDOW_TYPE],
  },
  'PUT /api/runs/:id/note': {
    operationId: 'writeRunNote',
    tag: 'runs',
    right: 'act',
    summary: 'Write the note of a run',
    description: 'Replaces the previous note.',
    params: IdParam,
    body: input({ note: text({ maxLength: 5000 }) }),
    answers: { 200: RunView },
  },
  'PUT /api/runs/:id/title': {
    operationId: 'nameRun',
    tag: 'runs',
    right: 'act',
    summary: 'Name a run',
    description: 'What users call it. Its number stays, because it is printed on labels. Empty = no name.',
    params: IdParam,
    body: input({ title: text({ maxLength: 80 }) }),
    answers: { 200: RunView },
  },
  'PUT /api/runs/:id/test': {
    operationId: 'markRunAsTest',
    tag: 'runs',
    right: 'act',
    summary: 'Mark a run as a test, or take that back',
    description: 'A test is left out of trends and of what preparations did.',
    params: IdParam,
    body: input({ isTest: bool() }),
    answers: { 200: RunView },
  },
  'PUT /api/runs/:id/date': {
    operationId: 'setRunDate',
    tag: 'runs',
    right: 'manage',
    summary: 'Correct the date of an ended run, or keep it',
    description:
      'A clock without a battery may date a run wrong. “corrected” moves all its times: readings, sections, spools, alarms and log. “original” moves them back, or keeps the date if they were not moved; the alarm then ends. What was stated after the clock was right keeps its date.',
    params: IdParam,
    body: input({ use: oneOf(['corrected', 'original']) }),
    answers: { 200: RunDatesView },
  },
  'GET /api/lots': {
    operationId: 'listMaterials',
    tag: 'runs',
    right: 'watch',
    summary: 'List what every run was fed with, newest first, and the fields of a preparation',
    description: 'With what was read from the words of the user for fields that are still empty.',
    answers: { 200: LotsView },
  },
  'POST /api/lots': {
    operationId: 'changeMaterials',
    tag: 'runs',
    right: 'act',
    summary: 'Change the same fields of several runs',
    description:
      'All other fields stay; null removes a field. “confirm” takes over what was read from the words of the user. Earlier entries stay in the record. Answers with the new list.',
    body: input({
      runIds: Type.Array(int({ minimum: 1 }), { minItems: 1, maxItems: 1000 }),
      name: Type.Optional(text({ maxLength: 60 })),
      values: Type.Optional(Type.Record(text({ maxLength: 60 }), orNull(ValueInput))),
      confirm: withDefault(bool(), false),
    }),
    answers: { 200: LotsView },
  },
  'PUT /api/runs/:id/lot': {
    operationId: 'setMaterial',
    tag: 'runs',
    right: 'act',
    summary: 'Enter the material of a run',
    description: 'What the run was fed with, and how that was prepared. Earlier entries stay in the record.',
    params: IdParam,
    body: LotInput,
    answers: { 200: RunView },
  },
});
