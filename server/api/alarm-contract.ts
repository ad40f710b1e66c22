import { type Static, Type } from 'typebox';
import { ALARM_TYPES, type AlarmType, PRIORITIES } from '../alarm/alarm.ts';
import type { AlarmFigures, CountedAlarm } from '../alarm/alarm-figures.ts';
import { type AlarmLimits, type AlarmSettings, catalogueWith, limitOf } from '../alarm/alarm-settings.ts';
import { type AlarmEntry, CATALOGUE, isOfZone } from '../alarm/catalogue.ts';
import { longestShelfMin } from '../alarm/shelf.ts';
import { capital } from '../problem/sentence.ts';

const words = <const T extends readonly string[]>(values: T) =>
  Type.Unsafe<T[number]>({ type: 'string', enum: [...values] });

const HowItIsSet = {
  priority: words(PRIORITIES),
  onDelayS: Type.Number({ description: 'The condition must hold for so long before the alarm is raised' }),
  offDelayS: Type.Number({ description: 'And be gone for so long before it returns to normal' }),
  deadband: Type.Union([Type.Number(), Type.Null()], {
    description: 'It returns only at so much on the good side of its limit; null = its condition has no measure',
  }),
  latching: Type.Boolean({ description: 'It stays until it was acknowledged and reset' }),
  consequence: Type.String({ description: 'What happens if nobody does anything' }),
  firstCheck: Type.String({ description: 'What to check first' }),
};

/** One type of alarm: how it is set, and how it is before anybody sets it. */
export const AlarmTypeView = Type.Object(
  {
    type: words(ALARM_TYPES),
    title: Type.String(),
    group: words(['strand', 'gauge', 'link', 'heat', 'record']),
    ofZone: Type.Boolean({ description: 'Each zone has one of its own' }),
    caution: Type.String(),
    longestShelfMin: Type.Number(),
    limit: Type.Union([Type.Object({ value: Type.Number(), unit: Type.String() }), Type.Null()], {
      description: 'The limit that a deadband counts from, where it is known',
    }),
    deadbandUnit: Type.Union([Type.String(), Type.Null()]),
    ...HowItIsSet,
    changed: Type.Boolean({ description: 'A person has set something about it' }),
    default: Type.Object(HowItIsSet),
  },
  { $id: 'AlarmType' },
);
export type AlarmTypeView = Static<typeof AlarmTypeView>;

export function alarmTypeView(type: AlarmType, settings: AlarmSettings, limits: AlarmLimits): AlarmTypeView {
  const entry = CATALOGUE[type];
  const limit = limitOf(type, limits);
  return {
    type,
    title: entry.title,
    group: entry.group,
    ofZone: isOfZone(type),
    caution: entry.caution,
    longestShelfMin: longestShelfMin(type),
    limit: limit === null ? null : { value: limit.value, unit: limit.unit },
    deadbandUnit: entry.deadband?.unit ?? null,
    ...howItIsSet(catalogueWith(settings)[type]),
    changed: Object.keys(settings[type] ?? {}).length > 0,
    default: howItIsSet(entry),
  };
}

function howItIsSet(entry: AlarmEntry): AlarmTypeView['default'] {
  const { priority, onDelayS, offDelayS, deadband, latching, consequence, firstCheck } = entry;
  return { priority, onDelayS, offDelayS, deadband: deadband?.value ?? null, latching, consequence, firstCheck };
}

const Counted = Type.Array(
  Type.Object({ type: words(ALARM_TYPES), title: Type.String(), subject: Type.String(), count: Type.Integer() }),
);
const orNull = (description: string) => Type.Union([Type.Number(), Type.Null()], { description });

/** What a run asked of whoever watches it. */
export const AlarmFiguresView = Type.Object(
  {
    calls: Type.Integer({ description: 'Times that somebody was called' }),
    perTenMin: orNull('Mean calls in 10 min; null where the run was shorter'),
    peakPerTenMin: Type.Integer({ description: 'Most calls in any 10 min' }),
    floods: Type.Array(Type.Object({ fromMs: Type.Number(), toMs: Type.Number(), calls: Type.Integer() }), {
      description: 'More than 10 calls in 10 min, until fewer than 5 come in 10 min',
    }),
    floodShare: Type.Number({ description: 'Share of the run, 0 to 1' }),
    byPriority: Type.Object({ high: Type.Integer(), medium: Type.Integer(), low: Type.Integer() }),
    frequent: Counted,
    chattering: Counted,
    fleeting: Counted,
    stale: Type.Array(
      Type.Object({ type: words(ALARM_TYPES), title: Type.String(), subject: Type.String(), forMs: Type.Number() }),
    ),
    medianAnswerMs: orNull('Median from a call to its acknowledgement'),
    unanswered: Type.Integer({ description: 'Calls that nobody has acknowledged' }),
  },
  { $id: 'AlarmFigures' },
);
export type AlarmFiguresView = Static<typeof AlarmFiguresView>;

export function alarmFiguresView(figures: AlarmFigures): AlarmFiguresView {
  const named = <T extends Pick<CountedAlarm, 'type' | 'subject'>>(list: readonly T[]) =>
    list.map((one) => ({ ...one, title: namedBySubject(one.type, one.subject) }));
  return {
    ...figures,
    floods: figures.floods.map((flood) => ({ ...flood })),
    byPriority: { ...figures.byPriority },
    frequent: named(figures.frequent),
    chattering: named(figures.chattering),
    fleeting: named(figures.fleeting),
    stale: named(figures.stale),
  };
}

/** "Blob", "Zone 2: no rise". */
function namedBySubject(type: AlarmType, subject: string): string {
  const { title } = CATALOGUE[type];
  return subject === '' ? title : `${capital(subject)}: ${title}`;
}
