import { ALARM_TYPES, type AlarmType } from '../../alarm/alarm.ts';
import type { AlarmLimits } from '../../alarm/alarm-settings.ts';
import type { AlarmService } from '../../monitor/alarm-service.ts';
import { alarmTypeView } from '../alarm-views.ts';
import { type Api, serve } from '../serve.ts';
import { alarmView } from '../views.ts';

export interface AlarmParts {
  readonly alarms: AlarmService;
  settings(): AlarmLimits;
}

/** Alarms, and what users do about them. Each action is stored before it is confirmed. */
export function alarmRoutes(api: Api, { alarms, settings }: AlarmParts): void {
  const typeView = (type: AlarmType) => alarmTypeView(type, alarms.settings, settings());

  serve(api, 'GET /api/alarms', () => alarms.standing().map(alarmView));

  serve(api, 'GET /api/alarms/suppressed', () => alarms.suppressed().map(alarmView));

  serve(api, 'POST /api/alarms/acknowledge-all', ({ by, from }) =>
    alarms.acknowledgeAll({ name: by, from }).map(alarmView),
  );

  serve(api, 'POST /api/alarms/:id/acknowledge', ({ params, by, from }) =>
    alarmView(alarms.acknowledge(params.id, { name: by, from })),
  );

  serve(api, 'POST /api/alarms/:id/reset', ({ params, by, from }) =>
    alarmView(alarms.reset(params.id, { name: by, from })),
  );

  serve(api, 'POST /api/alarms/:id/shelve', ({ params, body, by, from }) => {
    const { forMin, reason = '' } = body;
    return alarmView(alarms.shelve(params.id, { forMin, reason }, { name: by, from }));
  });

  serve(api, 'POST /api/alarms/:id/unshelve', ({ params, by, from }) =>
    alarmView(alarms.unshelve(params.id, { name: by, from })),
  );

  serve(api, 'POST /api/alarms/:id/return-to-service', ({ params, by, from }) =>
    alarmView(alarms.returnToService(params.id, { name: by, from })),
  );

  serve(api, 'POST /api/alarm-types/:type/out-of-service', ({ params, body, by, from }) => {
    const { zones = [], reason } = body;
    return alarms.removeFromService(params.type, zones, reason, { name: by, from }).map(alarmView);
  });

  serve(api, 'GET /api/alarm-types', () => ALARM_TYPES.map(typeView));

  serve(api, 'PUT /api/alarm-types/:type', ({ params, body, by, from }) => {
    alarms.changeSetting(params.type, body, { name: by, from });
    return typeView(params.type);
  });

  serve(api, 'DELETE /api/alarm-types/:type', ({ params, by, from }) => {
    alarms.restoreDefaults(params.type, { name: by, from });
    return typeView(params.type);
  });
}
