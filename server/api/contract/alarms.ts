import { type Static, Type } from 'typebox';
import { ALARM_STATES, ALARM_TYPES, PRIORITIES } from '../../alarm/alarm.ts';
import { ZONE_COUNT_MAX } from '../../reading/names.ts';
import { routes } from './route-table.ts';
import { bool, component, IdParam, input, int, list, num, numOrNull, oneOf, orNull, text } from './schema.ts';

export const AlarmView = component('Alarm', {
  id: int(),
  type: oneOf(ALARM_TYPES),
  title: text({ description: 'Short title, such as “Blob” or “Zone 2: not warming up as it should”' }),
  subject: text({ description: 'What the alarm is about, such as “zone 2”; empty = the line as a whole' }),
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
  ceasedMs: numOrNull({ description: 'When the condition itself ended, before the off-delay' }),
  acknowledgedMs: numOrNull(),
  acknowledgedBy: orNull(text()),
  longestShelfMin: num({ description: 'Longest time it may be silenced for' }),
  suppression: orNull(
    Type.Object({
      sinceMs: num(),
      untilMs: numOrNull({ description: 'The suppression ends automatically at this time at the latest' }),
      untilRunEnds: bool('The suppression also ends with the run'),
      reason: text(),
      by: orNull(text(), 'Who suppressed it; null = suppressed by design'),
      from: orNull(text()),
      occurred: int({ description: 'How often it occurred while suppressed' }),
    }),
  ),
});
export type AlarmView = Static<typeof AlarmView>;

const alarmSettings = {
  priority: oneOf(PRIORITIES),
  onDelayS: num({ description: 'How long the condition must hold before the alarm is raised' }),
  offDelayS: num({ description: 'How long the condition must be gone before the alarm returns to normal' }),
  deadband: numOrNull({
    description:
      'How far back within its limit the value must be before the alarm returns; null = its condition has no measured value',
  }),
  latching: bool('The alarm stays until it is acknowledged and reset'),
  consequence: text({ description: 'What happens if ignored' }),
  firstCheck: text({ description: 'What to check first' }),
};

export const AlarmTypeView = component(
  'AlarmType',
  {
    type: oneOf(ALARM_TYPES),
    title: text(),
    group: oneOf(['strand', 'gauge', 'link', 'heat', 'record']),
    perZone: bool('Each zone has its own alarm of this type'),
    caution: text(),
    longestShelfMin: num(),
    limit: orNull(Type.Object({ value: num(), unit: text() }), 'The limit that the deadband counts from; null = none'),
    deadbandUnit: orNull(text()),
    ...alarmSettings,
    changed: bool('A user changed at least one of its settings'),
    default: Type.Object(alarmSettings),
  },
  'One alarm type: its settings and their defaults.',
);
export type AlarmTypeView = Static<typeof AlarmTypeView>;

const TypeParam = input({ type: oneOf(ALARM_TYPES) });
const Reason = text({ maxLength: 300, description: 'The reason, in plain words' });
const anything = () => Type.Optional(Type.Unknown());

/** Alarms, and what users do about them. Each action is stored before it is confirmed. */
export const alarms = routes({
  'GET /api/alarms': {
    operationId: 'listAlarms',
    tag: 'alarms',
    right: 'watch',
    summary: 'List current alarms, most urgent first',
    description: 'All active alarms, and past ones that still need to be acknowledged.',
    answers: { 200: list(AlarmView) },
  },
  'GET /api/alarms/suppressed': {
    operationId: 'listSuppressedAlarms',
    tag: 'alarms',
    right: 'watch',
    summary: 'List alarms that are silenced, suppressed by design or out of service',
    description: 'They notify no one until their suppression ends.',
    answers: { 200: list(AlarmView) },
  },
  'POST /api/alarms/acknowledge-all': {
    operationId: 'acknowledgeAllAlarms',
    tag: 'alarms',
    right: 'act',
    summary: 'Acknowledge all alarms',
    description: 'Returns the alarms that this request acknowledged.',
    answers: { 200: list(AlarmView) },
  },
  'POST /api/alarms/:id/acknowledge': {
    operationId: 'acknowledgeAlarm',
    tag: 'alarms',
    right: 'act',
    summary: 'Acknowledge an alarm',
    description: 'States that someone has seen the alarm and is taking care of it; no one else is notified of it.',
    params: IdParam,
    answers: { 200: AlarmView },
  },
  'POST /api/alarms/:id/reset': {
    operationId: 'resetAlarm',
    tag: 'alarms',
    right: 'act',
    summary: 'Reset a latched alarm',
    description: 'Possible only once the alarm is acknowledged and its cause is gone.',
    params: IdParam,
    answers: { 200: AlarmView },
  },
  'POST /api/alarms/:id/shelve': {
    operationId: 'silenceAlarm',
    tag: 'alarms',
    right: 'act',
    summary: 'Silence an alarm for a while',
    description: 'The silence ends automatically when the time is over, or at the end of the run.',
    params: IdParam,
    body: input({
      forMin: orNull(num(), 'Minutes; null = until the run ends'),
      reason: Type.Optional(Reason),
    }),
    answers: { 200: AlarmView },
  },
  'POST /api/alarms/:id/unshelve': {
    operationId: 'endSilence',
    tag: 'alarms',
    right: 'act',
    summary: 'End the silence of an alarm early',
    description: 'If its condition still holds, the alarm is raised again.',
    params: IdParam,
    answers: { 200: AlarmView },
  },
  'POST /api/alarms/:id/return-to-service': {
    operationId: 'returnAlarmToService',
    tag: 'alarms',
    right: 'manage',
    summary: 'Return an alarm to service',
    description: 'If its condition holds, the alarm is raised again.',
    params: IdParam,
    answers: { 200: AlarmView },
  },
  'POST /api/alarm-types/:type/out-of-service': {
    operationId: 'takeAlarmOutOfService',
    tag: 'alarms',
    right: 'manage',
    summary: 'Take an alarm out of service, with a reason',
    description: 'The alarm notifies no one until a user returns it to service.',
    params: TypeParam,
    body: input({
      zones: Type.Optional(
        Type.Array(int({ minimum: 1, maximum: ZONE_COUNT_MAX }), {
          uniqueItems: true,
          description: 'Numbers of the zones: required for an alarm type that each zone has, not allowed for any other',
        }),
      ),
      reason: Reason,
    }),
    answers: { 200: list(AlarmView) },
  },
  'GET /api/alarm-types': {
    operationId: 'listAlarmTypes',
    tag: 'alarms',
    right: 'watch',
    summary: 'List all alarm types with their settings',
    description: 'Each with its current and its default settings.',
    answers: { 200: list(AlarmTypeView) },
  },
  'PUT /api/alarm-types/:type': {
    operationId: 'setAlarmType',
    tag: 'alarms',
    right: 'manage',
    summary: 'Change the settings of an alarm type',
    description: 'Fields that are left out keep their value.',
    params: TypeParam,
    // Checked by the alarm room, which explains better what is wrong.
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
    right: 'manage',
    summary: 'Restore the defaults of an alarm type',
    description: 'Discards all changes that users made to it.',
    params: TypeParam,
    answers: { 200: AlarmTypeView },
  },
});
