import { Type } from 'typebox';
import { ALARM_TYPES, type AlarmType } from '../../alarm/alarm.ts';
import { ZONE_COUNT_MAX } from '../../reading/names.ts';
import { AlarmTypeView, alarmTypeView } from '../alarm-contract.ts';
import { personOf } from '../caller.ts';
import { AlarmView, ProblemView } from '../contract.ts';
import { alarmView } from '../views.ts';
import { type Api, By, IdParam, type RouteContext } from './context.ts';

const Answer = Type.Optional(Type.Union([Type.Object({ by: By }, { additionalProperties: false }), Type.Null()]));

const Reason = Type.String({ maxLength: 300, description: 'Why, in plain words' });

const OneAlarm = { 200: AlarmView, default: ProblemView };
const ManyAlarms = { 200: Type.Array(AlarmView), default: ProblemView };

const TypeParam = Type.Object({ type: Type.Unsafe<AlarmType>({ type: 'string', enum: [...ALARM_TYPES] }) });

/** Alarms as they stand, and what people answer. Every answer is in the record before it is confirmed. */
export function alarmRoutes(api: Api, context: RouteContext): void {
  const { alarms } = context.monitor;

  api.get(
    '/api/alarms',
    {
      schema: {
        tags: ['alarms'],
        summary: 'All alarms that call or called for somebody, most urgent first',
        response: ManyAlarms,
      },
    },
    () => alarms.standing().map(alarmView),
  );

  api.get(
    '/api/alarms/resting',
    {
      schema: {
        tags: ['alarms'],
        summary: 'All alarms that are shelved, suppressed by design or out of service',
        response: ManyAlarms,
      },
    },
    () => alarms.resting().map(alarmView),
  );

  api.post(
    '/api/alarms/acknowledge-all',
    {
      schema: {
        tags: ['alarms'],
        summary: 'Acknowledge every alarm that waits for it',
        body: Answer,
        response: ManyAlarms,
      },
    },
    (request) => alarms.acknowledgeAll(personOf(request)).map(alarmView),
  );

  api.post(
    '/api/alarms/:id/acknowledge',
    {
      schema: {
        tags: ['alarms'],
        summary: 'Somebody has seen the alarm and takes care of it',
        params: IdParam,
        body: Answer,
        response: OneAlarm,
      },
    },
    (request) => alarmView(alarms.acknowledge(request.params.id, personOf(request))),
  );

  api.post(
    '/api/alarms/:id/reset',
    {
      schema: {
        tags: ['alarms'],
        summary: 'Let a latched alarm go, whose cause is gone and which was acknowledged',
        params: IdParam,
        body: Answer,
        response: OneAlarm,
      },
    },
    (request) => alarmView(alarms.reset(request.params.id, personOf(request))),
  );

  api.post(
    '/api/alarms/:id/shelve',
    {
      schema: {
        tags: ['alarms'],
        summary: 'Let an alarm rest for a while; it comes back by itself',
        params: IdParam,
        body: Type.Object(
          {
            forMin: Type.Union([Type.Number(), Type.Null()], { description: 'Minutes; null = until the run ends' }),
            reason: Type.Optional(Reason),
            by: By,
          },
          { additionalProperties: false },
        ),
        response: OneAlarm,
      },
    },
    (request) => {
      const { forMin, reason = '' } = request.body;
      return alarmView(alarms.shelve(request.params.id, { forMin, reason }, personOf(request)));
    },
  );

  api.post(
    '/api/alarms/:id/unshelve',
    {
      schema: {
        tags: ['alarms'],
        summary: 'Let a shelved alarm come back before its time',
        params: IdParam,
        body: Answer,
        response: OneAlarm,
      },
    },
    (request) => alarmView(alarms.unshelve(request.params.id, personOf(request))),
  );

  api.post(
    '/api/alarms/:id/return-to-service',
    {
      schema: {
        tags: ['alarms'],
        summary: 'Return an alarm to service',
        params: IdParam,
        body: Answer,
        response: OneAlarm,
      },
    },
    (request) => alarmView(alarms.returnToService(request.params.id, personOf(request))),
  );

  api.post(
    '/api/alarm-types/:type/out-of-service',
    {
      schema: {
        tags: ['alarms'],
        summary: 'Take an alarm out of service, with a reason, until somebody returns it',
        params: TypeParam,
        body: Type.Object(
          {
            zones: Type.Optional(
              Type.Array(Type.Integer({ minimum: 1, maximum: ZONE_COUNT_MAX }), {
                uniqueItems: true,
                description: 'Which zones, for an alarm of the heat: all of them or none',
              }),
            ),
            reason: Reason,
            by: By,
          },
          { additionalProperties: false },
        ),
        response: ManyAlarms,
      },
    },
    (request) => {
      const { zones = [], reason } = request.body;
      return alarms.removeFromService(request.params.type, zones, reason, personOf(request)).map(alarmView);
    },
  );

  const typeView = (type: AlarmType) => alarmTypeView(type, alarms.settings, context.monitor.settings);

  api.get(
    '/api/alarm-types',
    {
      schema: {
        tags: ['alarms'],
        summary: 'All that can be raised, and how it is set',
        response: { 200: Type.Array(AlarmTypeView), default: ProblemView },
      },
    },
    () => ALARM_TYPES.map(typeView),
  );

  api.put(
    '/api/alarm-types/:type',
    {
      schema: {
        tags: ['alarms'],
        summary: 'Set an alarm type: what is not given stays as it is',
        params: TypeParam,
        body: Type.Object({
          priority: Type.Optional(Type.Unknown()),
          onDelayS: Type.Optional(Type.Unknown()),
          offDelayS: Type.Optional(Type.Unknown()),
          deadband: Type.Optional(Type.Unknown()),
          latching: Type.Optional(Type.Unknown()),
          consequence: Type.Optional(Type.Unknown()),
          firstCheck: Type.Optional(Type.Unknown()),
          by: By,
        }),
        response: { 200: AlarmTypeView, default: ProblemView },
      },
    },
    (request) => {
      // What each may be is checked where the alarms are, in words that a person understands.
      const { by: _by, ...given } = request.body;
      alarms.set(request.params.type, given, personOf(request));
      return typeView(request.params.type);
    },
  );

  api.delete(
    '/api/alarm-types/:type',
    {
      schema: {
        tags: ['alarms'],
        summary: 'Set an alarm type back to what the catalogue has',
        params: TypeParam,
        response: { 200: AlarmTypeView, default: ProblemView },
      },
    },
    (request) => {
      alarms.setBack(request.params.type, personOf(request));
      return typeView(request.params.type);
    },
  );
}
