import { type Static, Type } from 'typebox';
import { ALARM_STATES, PRIORITIES } from '../../alarm/alarm.ts';
import { STAGES } from '../../stage/stage.ts';
import { routes } from './route-table.ts';
import { RunView } from './runs-and-spools.ts';
import { bool, component, IdParam, input, int, list, num, numOrNull, oneOf, orNull, text } from './schema.ts';
import { NEWEST, PRINT_NEEDS, StockFitView, StockView } from './stock.ts';

const LineAlarm = Type.Object({
  id: int(),
  title: text(),
  sentence: text(),
  firstCheck: text(),
  priority: oneOf(PRIORITIES),
  state: oneOf(ALARM_STATES),
  occurrences: int(),
});

export const SeenLineView = component(
  'SeenLine',
  {
    id: int({ description: '0 = the line of this service' }),
    name: text(),
    address: text({ description: 'Of its own page; empty = this one' }),
    connection: oneOf(['connecting', 'open', 'lost']),
    silentForS: num({ digits: 0, description: 'Since its last frame' }),
    severity: oneOf(['calm', 'notice', 'abnormal', 'danger']),
    sentence: text({ description: 'Its state in one sentence; why it is lost, if it is' }),
    notes: list(text(), 'What is odd about it, a sentence each: its name, its clock'),
    stage: orNull(oneOf(STAGES)),
    spool: orNull(
      Type.Object({
        ordinal: int(),
        woundMm: num({ digits: 0 }),
        capacityMm: numOrNull({ digits: 0 }),
        discardMm: num({ digits: 0 }),
      }),
    ),
    diameterMm: numOrNull({ digits: 3 }),
    alarms: list(LineAlarm, 'The most urgent ones, first the one that the sentence is about'),
    toAnswer: int({ description: 'Number of alarms that wait for an acknowledgement' }),
    mayAcknowledge: bool(),
    limits: orNull(
      Type.Object({
        nominalMm: num(),
        toleranceMm: num(),
        hotendLimitMm: num(),
        smallestFeedableMm: num(),
        strandPresentMm: num(),
      }),
    ),
    trace: Type.Object(
      {
        spanMm: num({ digits: 0 }),
        min: list(numOrNull({ digits: 3 })),
        max: list(numOrNull({ digits: 3 })),
      },
      { description: 'Diameter along the strand from the gauge on, in equal parts; null = not measured' },
    ),
  },
  'One line of the house, as this service sees it.',
);
export type SeenLineView = Static<typeof SeenLineView>;

export const LinesFrame = component(
  'LinesFrame',
  { kind: Type.Literal('lines'), lines: list(SeenLineView) },
  'All lines: sent on connection, 4 times a second, and immediately when an alarm of one changes.',
);
export type LinesFrame = Static<typeof LinesFrame>;

export const OtherLineView = component(
  'OtherLine',
  {
    id: int(),
    address: text(),
    name: text({ description: 'As the line reports it; empty = not yet' }),
    title: text({
      description: 'Its name, or the address while that is not known; both where lines have the same name',
    }),
    mayAcknowledge: bool('A token with the right to act is stored'),
    trouble: text({ description: 'Why it cannot be watched; empty = it is' }),
  },
  'Another line that this service shows. Its tokens are never returned.',
);
export type OtherLineView = Static<typeof OtherLineView>;

export const CopiedView = component(
  'Copied',
  {
    people: int(),
    printers: int(),
    material: bool('The material of the present run here was entered for the present run there'),
    leftOut: list(text(), 'What could not be copied, and why, a sentence each'),
  },
  'What was new to another line.',
);
export type CopiedView = Static<typeof CopiedView>;

const Token = (description: string) => Type.Optional(text({ maxLength: 200, description }));
const OtherLineInput = input({
  address: text({ maxLength: 200, description: 'Such as http://192.0.2.7:8751' }),
  watchToken: Token('Token of that line with the right to watch; left out = as saved, if the address is the same'),
  actToken: Token('Token with the right to act, to acknowledge its alarms; empty = only watch'),
});

/** Other lines of the house, each watched by its own service. */
export const lines = routes({
  'GET /live/lines': {
    operationId: 'openLinesFeed',
    tag: 'live',
    right: 'watch',
    summary: 'Open the feed of all lines (WebSocket)',
    description: 'Each text message is one LinesFrame. The client sends nothing. A plain GET returns one.',
    answers: { 200: LinesFrame },
  },
  'GET /api/lines': {
    operationId: 'listOtherLines',
    tag: 'set-up',
    right: 'watch',
    summary: 'List the other lines',
    description: 'Without their tokens.',
    answers: { 200: list(OtherLineView) },
  },
  'POST /api/lines': {
    operationId: 'addOtherLine',
    tag: 'set-up',
    right: 'manage',
    summary: 'Add another line',
    description: 'It is connected at once, and again whenever it comes back.',
    body: OtherLineInput,
    answers: { 201: OtherLineView },
  },
  'PUT /api/lines/:id': {
    operationId: 'changeOtherLine',
    tag: 'set-up',
    right: 'manage',
    summary: 'Change another line',
    description: 'With another address, its tokens are needed again.',
    params: IdParam,
    body: OtherLineInput,
    answers: { 200: OtherLineView },
  },
  'DELETE /api/lines/:id': {
    operationId: 'removeOtherLine',
    tag: 'set-up',
    right: 'manage',
    summary: 'Remove another line',
    description: 'It is no longer shown here. The line itself does not notice.',
    params: IdParam,
    answers: { 204: null },
  },
  'GET /api/lines/:id/runs': {
    operationId: 'listRunsOfOtherLine',
    tag: 'runs',
    right: 'watch',
    summary: 'List the newest runs of another line',
    description: 'As that line lists them. Refused (502) if it does not answer.',
    params: IdParam,
    answers: { 200: list(RunView) },
  },
  'GET /api/lines/:id/stock': {
    operationId: 'listStockOfOtherLine',
    tag: 'stock',
    right: 'watch',
    summary: 'List the coils and uncut spools of another line',
    description: 'As that line lists them. Refused (502) if it does not answer.',
    params: IdParam,
    query: input(NEWEST),
    answers: { 200: StockView },
  },
  'GET /api/lines/:id/stock/fit': {
    operationId: 'findStrandOfOtherLine',
    tag: 'stock',
    right: 'watch',
    summary: 'Find a coil of another line for a print',
    description: 'Each of its spools by the printer chosen for it there.',
    params: IdParam,
    query: input(PRINT_NEEDS),
    answers: { 200: StockFitView },
  },
  'POST /api/lines/:id/copy': {
    operationId: 'copyToOtherLine',
    tag: 'set-up',
    right: 'manage',
    summary: 'Copy people, printers and the material to another line',
    description:
      'With those channels that have no secrets. What has the same name there already stays as it is, so it can be repeated. The token is used once and not kept.',
    params: IdParam,
    body: input({ manageToken: text({ minLength: 1, maxLength: 200, description: 'Of that line, to manage it' }) }),
    answers: { 200: CopiedView },
  },
  'POST /api/lines/:id/alarms/:alarmId/acknowledge': {
    operationId: 'acknowledgeAlarmOfOtherLine',
    tag: 'alarms',
    right: 'act',
    summary: 'Acknowledge an alarm of another line',
    description: 'Passed on to that line with the token stored for it.',
    params: input({ id: int({ minimum: 1 }), alarmId: int({ minimum: 1 }) }),
    answers: { 204: null },
  },
});
