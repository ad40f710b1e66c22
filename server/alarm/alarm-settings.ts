import { pointerTo } from '../problem/pointer.ts';
import { Problem } from '../problem/problem.ts';
import { ALARM_TYPES, type AlarmType, PRIORITIES, type Priority } from './alarm.ts';
import { type AlarmEntry, CATALOGUE, type Catalogue } from './catalogue.ts';
import { GARBLED_ABOVE_PERCENT } from './conditions.ts';
import { DANGERS } from './first-out.ts';

/** User settings of an alarm type; a missing one is as in the catalogue. */
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

/** Limits of the line that deadbands depend on. */
export interface AlarmLimits {
  readonly absoluteLimitC: number;
}

const ON_DELAY_MAX_S = 600;
export const OFF_DELAY_MAX_S = 3600;
/** Longest on-delay of an alarm about danger of fire, s. */
const DANGER_ON_DELAY_MAX_S = 10;
const TEXT_MAX = 300;
/** A zone may never cool below this on a hot day, so its alarm must be able to return above it, °C. */
const WARM_WORKSHOP_C = 40;

/** The limit of an alarm type with a deadband, and the lowest value at which the alarm may return; null = no such limit. */
export function limitOf(
  type: AlarmType,
  limits: AlarmLimits,
): { readonly value: number; readonly lowest: number; readonly unit: string } | null {
  if (type === 'lineGarbled') return { value: GARBLED_ABOVE_PERCENT, lowest: 0, unit: '% of the lines' };
  if (type === 'zoneAboveAbsoluteLimit') return { value: limits.absoluteLimitC, lowest: WARM_WORKSHOP_C, unit: '°C' };
  return null;
}

/** The catalogue with the user's settings applied. */
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
 * Checks the settings of an alarm type, and leaves out those that are as in the catalogue.
 * @throws Problem `bad-setting`, which points to the field
 */
export function checkAlarmSetting(type: AlarmType, input: unknown, limits: AlarmLimits): AlarmSetting {
  if (typeof input !== 'object' || input === null || Array.isArray(input))
    throw wrong(type, null, 'the settings are not a JSON object', 'Send an object of names and values.');
  const setting: Record<string, unknown> = {};
  for (const [name, value] of Object.entries(input)) {
    if (value === undefined) continue;
    const check = CHECKS[name as keyof AlarmSetting];
    if (!Object.hasOwn(CHECKS, name) || check === undefined)
      throw wrong(type, name, `there is no setting “${name}”`, `Use one of: ${Object.keys(CHECKS).join(', ')}.`);
    check(type, value, limits);
    const clean = typeof value === 'string' ? value.trim() : value;
    if (clean !== defaultOf(type, name as keyof AlarmSetting)) setting[name] = clean;
  }
  return setting;
}

/** Checks all settings against changed limits of the line. @throws Problem `bad-setting` */
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
        'the priority must stay high, because it warns of a danger of fire',
        'Silence it or take it out of service instead.',
      );
  },
  onDelayS(type, value) {
    const most = DANGERS.has(type) ? DANGER_ON_DELAY_MAX_S : ON_DELAY_MAX_S;
    checkDelay(type, 'onDelayS', 'on-delay', value, most, 'an alarm cannot be raised before its cause');
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
      throw wrong(
        type,
        'deadband',
        'a deadband is not possible, because its condition has no measured value',
        'Use the off-delay.',
      );
    if (typeof value !== 'number' || !Number.isFinite(value) || value < 0)
      throw wrong(type, 'deadband', `“${String(value)}” is not a deadband`, `Give 0 or more, in ${deadband.unit}.`);
    checkOffLimit(type, value, limits, 'deadband');
  },
  latching(type, value) {
    if (typeof value !== 'boolean')
      throw wrong(type, 'latching', `“${String(value)}” is neither true nor false`, 'Give true or false.');
  },
  consequence: (type, value) => checkListText(type, 'consequence', 'the consequence', value),
  firstCheck: (type, value) => checkListText(type, 'firstCheck', 'the first check', value),
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
    throw wrong(type, field, `the ${what} is not a number`, `Give seconds from 0 to ${mostS}.`);
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

/** The alarm returns at limit − deadband: the value must be able to fall that far. */
function checkOffLimit(type: AlarmType, deadband: number, limits: AlarmLimits, field: string): void {
  const limit = limitOf(type, limits);
  if (limit === null || deadband <= limit.value - limit.lowest) return;
  const { value, lowest, unit } = limit;
  throw wrong(
    type,
    field,
    `a deadband of ${deadband} is too wide: raised above ${value} ${unit}, it would return only at ${value - deadband} ${unit}`,
    `Give a deadband of at most ${value - lowest}, so that it returns at ${lowest} ${unit} or above.`,
  );
}

function checkListText(type: AlarmType, field: string, what: string, value: unknown): void {
  if (typeof value === 'string' && value.trim() !== '' && value.length <= TEXT_MAX) return;
  throw wrong(type, field, `${what} is missing or too long`, `Give 1 to ${TEXT_MAX} characters.`);
}

function wrong(type: AlarmType, field: string | null, what: string, remedy: string): Problem {
  const pointer = field === null ? null : pointerTo(field);
  return new Problem('bad-setting', `Alarm “${CATALOGUE[type].title}”: ${what}.`, remedy, { pointer });
}
