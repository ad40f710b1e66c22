import type { AlarmType } from '../alarm/alarm.ts';
import type { AlarmFigures, CountedAlarm } from '../alarm/alarm-figures.ts';
import { type AlarmLimits, type AlarmSettings, catalogueWith, limitOf } from '../alarm/alarm-settings.ts';
import { type AlarmEntry, CATALOGUE, isOfZone } from '../alarm/catalogue.ts';
import { longestShelfMin } from '../alarm/shelving.ts';
import { capital } from '../problem/sentence.ts';
import type { AlarmTypeView } from './contract/alarms.ts';

export function alarmTypeView(type: AlarmType, settings: AlarmSettings, limits: AlarmLimits): AlarmTypeView {
  const entry = CATALOGUE[type];
  return {
    type,
    title: entry.title,
    group: entry.group,
    perZone: isOfZone(type),
    caution: entry.caution,
    longestShelfMin: longestShelfMin(type),
    limit: limitOf(type, limits),
    deadbandUnit: entry.deadband?.unit ?? null,
    ...settingsView(catalogueWith(settings)[type]),
    changed: Object.keys(settings[type] ?? {}).length > 0,
    default: settingsView(entry),
  };
}

function settingsView(entry: AlarmEntry): AlarmTypeView['default'] {
  return { ...entry, deadband: entry.deadband?.value ?? null };
}

export function alarmLoadView(figures: AlarmFigures) {
  const titled = <T extends Pick<CountedAlarm, 'type' | 'subject'>>(list: readonly T[]) =>
    list.map((one) => ({ ...one, title: titleWithSubject(one.type, one.subject) }));
  return {
    ...figures,
    frequent: titled(figures.frequent),
    chattering: titled(figures.chattering),
    fleeting: titled(figures.fleeting),
    stale: titled(figures.stale),
  };
}

/** "Blob", "Zone 2: not warming up as it should". */
function titleWithSubject(type: AlarmType, subject: string): string {
  const { title } = CATALOGUE[type];
  return subject === '' ? title : `${capital(subject)}: ${title}`;
}
