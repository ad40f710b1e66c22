import { pointerTo } from '../problem/pointer.ts';
import { Problem } from '../problem/problem.ts';
import { ALARM_TYPES, type AlarmType, PRIORITIES, type Priority } from './alarm.ts';
import { type AlarmEntry, CATALOGUE, type Catalogue } from './catalogue.ts';
import { GARBLED_ABOVE_PERCENT } from './conditions.ts';
import { DANGERS } from './first-out.ts';

/** What a person may set about an alarm type; what they leave out is as the catalogue has it. */
export interface AlarmSetting {
  readonly priority?: Priority;
  readonly onDelayS?: number;
  readonly offDelayS?: number;
  /** In the unit of the type's deadband; only where it has one. */
  readonly deadband?: number;
  readonly latching?: boolean;
  readonly consequence?: string;
  readonly firstCheck?: string;
}

export type AlarmSettings = Readonly<Partial<Record<AlarmType, AlarmSetting>>>;

/** Limits of the line that a deadband must fit to. */
export interface AlarmLimits {
  readonly absoluteLimitC: number;
}

const ON_DELAY_MAX_S = 600;
export const OFF_DELAY_MAX_S = 3600;
/** What may burn is not waited for longer than this, s. */
const DANGER_ON_DELAY_MAX_S = 10;
const WORDS_MAX = 300;
/** A zone that has to cool below this before its alarm returns would keep it for ever on a hot day, °C. */
const WARM_WORKSHOP_C = 40;

/** The limit that an alarm type has a measure against, and the lowest that the measure can be expected to come back to. */
export function limitOf(
  type: AlarmType,
  limits: AlarmLimits,
): { readonly value: number; readonly lowest: number; readonly unit: string } | null {
  if (type === 'lineGarbled') return { value: GARBLED_ABOVE_PERCENT, lowest: 0, unit: '% of the lines' };
  if (type === 'zoneAboveAbsoluteLimit') return { value: limits.absoluteLimitC, lowest: WARM_WORKSHOP_C, unit: '°C' };
  return null;
}

/** The catalogue as it is set. */
export function catalogueWith(settings: AlarmSettings): Catalogue {
  const entries = ALARM_TYPES.map((type): [AlarmType, AlarmEntry] => {
    const { deadband, ...rest } = settings[type] ?? {};
    const entry = CATALOGUE[type];
    const band =
      entry.deadband === null || deadband === undefined ? entry.deadband : { ...entry.deadband, value: deadband };
    return [type, { ...entry, ...rest, deadband: band }];
  });
  return Object.fromEntries(entries) as Catalogue;
}

/**
 * Checks what somebody set about an alarm type, and leaves out what is as the catalogue has it.
 * @throws Problem `bad-setting` that says which alarm, what is wrong and what it must be; it points to the field
 */
export function checkAlarmSetting(type: AlarmType, given: unknown, limits: AlarmLimits): AlarmSetting {
  if (typeof given !== 'object' || given === null || Array.isArray(given))
    throw wrong(type, null, 'the settings are not an object of names and values', 'Send a JSON object.');
  const setting: Record<string, unknown> = {};
  for (const [name, value] of Object.entries(given)) {
    if (value === undefined) continue;
    const check = CHECKS[name as keyof AlarmSetting];
    if (!Object.hasOwn(CHECKS, name) || check === undefined)
      throw wrong(
        type,
        name,
        `there is nothing called “${name}” to set`,
        `There is: ${Object.keys(CHECKS).join(', ')}.`,
      );
    check(type, value, limits);
    const tidy = typeof value === 'string' ? value.trim() : value;
    if (tidy !== defaultOf(type, name as keyof AlarmSetting)) setting[name] = tidy;
  }
  return setting;
}

/** Whether all that is set still fits to other limits of the line. @throws Problem `bad-setting` */
export function checkAgainstLimits(settings: AlarmSettings, limits: AlarmLimits): void {
  for (const type of ALARM_TYPES) {
    checkOffLimit(type, catalogueWith(settings)[type].deadband?.value ?? 0, limits, 'absoluteLimitC');
  }
}

export function defaultOf(type: AlarmType, name: keyof AlarmSetting): string | number | boolean | undefined {
  return name === 'deadband' ? CATALOGUE[type].deadband?.value : CATALOGUE[type][name];
}

type Check = (type: AlarmType, value: unknown, limits: AlarmLimits) => void;

const CHECKS: Readonly<Record<keyof AlarmSetting, Check>> = {
  priority(type, value) {
    if (!PRIORITIES.includes(value as Priority))
      throw wrong(type, 'priority', `“${String(value)}” is not a priority`, `Give one of ${PRIORITIES.join(', ')}.`);
    if (DANGERS.has(type) && value !== 'high')
      throw wrong(
        type,
        'priority',
        'what may burn keeps the high priority',
        'Shelve it or take it out of service, with a reason.',
      );
  },
  onDelayS(type, value) {
    const most = DANGERS.has(type) ? DANGER_ON_DELAY_MAX_S : ON_DELAY_MAX_S;
    checkDelay(type, 'onDelayS', 'on-delay', value, most, 'an alarm cannot come before its cause');
  },
  offDelayS(type, value) {
    checkDelay(
      type,
      'offDelayS',
      'off-delay',
      value,
      OFF_DELAY_MAX_S,
      'an alarm cannot return before its cause is gone',
    );
  },
  deadband(type, value, limits) {
    const { deadband } = CATALOGUE[type];
    if (deadband === null)
      throw wrong(type, 'deadband', 'its condition has no measure, so it can have no deadband', 'Use the off-delay.');
    if (typeof value !== 'number' || !Number.isFinite(value) || value < 0)
      throw wrong(type, 'deadband', `a deadband of ${String(value)} is none`, `Give 0 or more, in ${deadband.unit}.`);
    checkOffLimit(type, value, limits, 'deadband');
  },
  latching(type, value) {
    if (typeof value !== 'boolean')
      throw wrong(type, 'latching', `“${String(value)}” is neither yes nor no`, 'Give true or false.');
  },
  consequence: (type, value) => checkListText(type, 'consequence', 'what happens if nobody does anything', value),
  firstCheck: (type, value) => checkListText(type, 'firstCheck', 'what to check first', value),
};

function checkDelay(
  type: AlarmType,
  field: string,
  what: string,
  value: unknown,
  mostS: number,
  because: string,
): void {
  if (typeof value !== 'number' || !Number.isFinite(value))
    throw wrong(type, field, `the ${what} is no number`, `Give seconds from 0 to ${mostS}.`);
  if (value < 0)
    throw wrong(type, field, `the ${what} is ${value} s, and ${because}`, `Give seconds from 0 to ${mostS}.`);
  if (value > mostS)
    throw wrong(
      type,
      field,
      `an ${what} of ${value} s leaves the line unwatched for too long`,
      `Give at most ${mostS} s.`,
    );
}

/** It is raised above its limit and returns at limit − deadband: that must be a value which comes again. */
function checkOffLimit(type: AlarmType, deadband: number, limits: AlarmLimits, field: string): void {
  const limit = limitOf(type, limits);
  if (limit === null || deadband <= limit.value - limit.lowest) return;
  const { value, lowest, unit } = limit;
  throw wrong(
    type,
    field,
    `it is raised above ${value} ${unit} and with a deadband of ${deadband} would return only at ${value - deadband} ${unit}`,
    `It must return at ${lowest} ${unit} or above: give a deadband of at most ${value - lowest}.`,
  );
}

function checkListText(type: AlarmType, field: string, what: string, value: unknown): void {
  if (typeof value === 'string' && value.trim() !== '' && value.length <= WORDS_MAX) return;
  throw wrong(type, field, `it does not say ${what}`, `Say it in 1 to ${WORDS_MAX} characters.`);
}

function wrong(type: AlarmType, field: string | null, what: string, remedy: string): Problem {
  const pointer = field === null ? null : pointerTo(field);
  return new Problem('bad-setting', `In the alarm “${CATALOGUE[type].title}” ${what}.`, remedy, { pointer });
}
