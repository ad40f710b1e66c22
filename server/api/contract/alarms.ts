import { type Static, Type } from 'typebox';
import { ALARM_STATES, ALARM_TYPES, PRIORITIES } from '../../alarm/alarm.ts';
import { ZONE_COUNT_MAX } from '../../reading/names.ts';
import { routes } from './route-table.ts';
import { given, IdParam, int, list, named, num, numOrNull, oneOf, orNull, text, yes } from './schema.ts';

export const AlarmView = named('Alarm', {
  id: int(),
  type: oneOf(ALARM_TYPES),
  title: text({ description: 'Two or three words: "Blob", "Zone 2: no rise"' }),
  subject: text(),
  priority: oneOf(PRIORITIES),
  state: oneOf(ALARM_STATES),
  sentence: text(),
  consequence: text({ description: 'What happens if ignored' }),
  firstCheck: text(),
  caution: text(),
  occurrences: int(),
  raisedMs: num(),
  lastOccurredMs: num(),
  returnedMs: numOrNull(),
  ceasedMs: numOrNull({ description: 'When the condition itself ceased: before the off-delay' }),
  acknowledgedMs: numOrNull(),
  acknowledgedBy: orNull(text()),
  longestShelfMin: num({ description: 'The longest it may be silenced for' }),
  suppression: orNull(
    Type.Object({
      sinceMs: num(),
      untilMs: numOrNull({ description: 'It comes back automatically then at the latest' }),
      untilRunEnds: yes(),
      reason: text(),
      by: orNull(text(), 'null = by design'),
      from: orNull(text()),
      occurred: int({ description: 'How often it occurred during this rest' }),
    }),
  ),
});
export type AlarmView = Static<typeof AlarmView>;

const HowItIsSet = {
  priority: oneOf(PRIORITIES),
  onDelayS: num({ description: 'How long the condition must hold before the alarm is raised' }),
  offDelayS: num({ description: 'How long it must be gone before the alarm returns to normal' }),
  deadband: numOrNull({
    description: 'It returns only this far on the good side of its limit; null = its condition has no measure',
  }),
  latching: yes('It stays until it was acknowledged and reset'),
  consequence: text({ description: 'What happens if ignored' }),
  firstCheck: text({ description: 'What to check first' }),
};

export const AlarmTypeView = named(
  'AlarmType',
  {
    type: oneOf(ALARM_TYPES),
    title: text(),
    group: oneOf(['strand', 'gauge', 'link', 'heat', 'record']),
    ofZone: yes('Each zone has one of its own'),
    caution: text(),
    longestShelfMin: num(),
    limit: orNull(
      Type.Object({ value: num(), unit: text() }),
      'The limit that a deadband counts from, where there is one',
    ),
    deadbandUnit: orNull(text()),
    ...HowItIsSet,
    changed: yes('Something about it was changed by a user'),
    default: Type.Object(HowItIsSet),
  },
  'One type of alarm: how it is set, and how it is set by default.',
);
export type AlarmTypeView = Static<typeof AlarmTypeView>;

const TypeParam = given({ type: oneOf(ALARM_TYPES) });
const Reason = text({ maxLength: 300, description: 'Why, in plain words' });
const anything = () => Type.Optional(Type.Unknown());

/** Alarms, and what people do about them. Each action is in the record before it is confirmed. */
export const alarms = routes({
  'GET /api/alarms': {
    operationId: 'listAlarms',
    tag: 'alarms',
    summary: 'Current alarms, most urgent first',
    description: 'Every alarm that stands, and every past one that still waits to be acknowledged.',
    answers: { 200: list(AlarmView) },
  },
  'GET /api/alarms/suppressed': {
    operationId: 'listSilencedAlarms',
    tag: 'alarms',
    summary: 'Alarms that are silenced, suppressed by design or out of service',
    description: 'These notify nobody until their rest is over.',
    answers: { 200: list(AlarmView) },
  },
  'POST /api/alarms/acknowledge-all': {
    operationId: 'acknowledgeAllAlarms',
    tag: 'alarms',
    summary: 'Acknowledge every alarm that waits for it',
    description: 'Answers the alarms that this acknowledged.',
    answers: { 200: list(AlarmView) },
  },
  'POST /api/alarms/:id/acknowledge': {
    operationId: 'acknowledgeAlarm',
    tag: 'alarms',
    summary: 'Acknowledge an alarm',
    description: 'Someone has seen it and takes care of it; nobody else is notified of it.',
    params: IdParam,
    answers: { 200: AlarmView },
  },
  'POST /api/alarms/:id/reset': {
    operationId: 'resetAlarm',
    tag: 'alarms',
    summary: 'Reset a latched alarm',
    description: 'Only once it was acknowledged and its cause is gone.',
    params: IdParam,
    answers: { 200: AlarmView },
  },
  'POST /api/alarms/:id/shelve': {
    operationId: 'silenceAlarm',
    tag: 'alarms',
    summary: 'Silence an alarm for a while',
    description: 'It comes back automatically when the time is over, or at the end of the run.',
    params: IdParam,
    body: given({
      forMin: orNull(num(), 'Minutes; null = until the run ends'),
      reason: Type.Optional(Reason),
    }),
    answers: { 200: AlarmView },
  },
  'POST /api/alarms/:id/unshelve': {
    operationId: 'endSilence',
    tag: 'alarms',
    summary: 'End the silence of an alarm early',
    description: 'If its condition still holds, the alarm is raised again.',
    params: IdParam,
    answers: { 200: AlarmView },
  },
  'POST /api/alarms/:id/return-to-service': {
    operationId: 'returnAlarmToService',
    tag: 'alarms',
    summary: 'Return an alarm to service',
    description: 'If its condition holds, the alarm is raised again.',
    params: IdParam,
    answers: { 200: AlarmView },
  },
  'POST /api/alarm-types/:type/out-of-service': {
    operationId: 'takeAlarmOutOfService',
    tag: 'alarms',
    summary: 'Take an alarm out of service, with a reason',
    description: 'It notifies nobody until someone returns it to service.',
    params: TypeParam,
    body: given({
      zones: Type.Optional(
        Type.Array(int({ minimum: 1, maximum: ZONE_COUNT_MAX }), {
          uniqueItems: true,
          description: 'Which zones, for an alarm of a zone: all of them or none',
        }),
      ),
      reason: Reason,
    }),
    answers: { 200: list(AlarmView) },
  },
  'GET /api/alarm-types': {
    operationId: 'listAlarmTypes',
    tag: 'alarms',
    summary: 'All alarm types and how each is set',
    description: 'Each with its default beside it.',
    answers: { 200: list(AlarmTypeView) },
  },
  'PUT /api/alarm-types/:type': {
    operationId: 'setAlarmType',
    tag: 'alarms',
    summary: 'Set an alarm type',
    description: 'Fields that are left out keep their value.',
    params: TypeParam,
    // Names and values are checked in the alarm room, in words that a person understands.
    body: Type.Object({
      priority: anything(),
      onDelayS: anything(),
      offDelayS: anything(),
      deadband: anything(),
      latching: anything(),
      consequence: anything(),
      firstCheck: anything(),
    }),
    answers: { 200: AlarmTypeView },
  },
  'DELETE /api/alarm-types/:type': {
    operationId: 'restoreAlarmType',
    tag: 'alarms',
    summary: 'Restore the defaults of an alarm type',
    description: 'Takes back everything that users changed about it.',
    params: TypeParam,
    answers: { 200: AlarmTypeView },
  },
});
