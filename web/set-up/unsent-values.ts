import { type Missing, missingOf } from '../../server/proposal/missing.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { isWithin } from '../form/typed-number.ts';
import { roleValue, type SignalRow } from './signal-rows.ts';

/** What is typed for what the line does not send, and not saved yet; null = nothing. */
export interface UnsentValues {
  readonly setSpeedMmPerS: number | null;
  /** Of all zones, from 1. */
  readonly setpointsC: readonly (number | null)[] | null;
}

export const NO_VALUES: UnsentValues = { setSpeedMmPerS: null, setpointsC: null };
export const SPEED_BOUNDS = { exclusiveMinimum: 0, maximum: 500 };
export const SETPOINT_BOUNDS = { minimum: 0, maximum: 500 };

/** Which of speed and set-points the line does not send, as the rows show it, and the settings don’t hold. */
export function unsentOf(rows: readonly SignalRow[], settings: LineSettings): readonly Missing[] {
  const sent = rows.filter(({ isSent, needsPins }) => isSent && !needsPins);
  const roles = new Set(sent.flatMap(({ role }) => role ?? []));
  return missingOf({ ...settings, roles, pathConfirmed: true, calibrated: true }).filter(isUnsentValue);
}

export const isUnsentValue = (one: Missing) => one === 'speed' || one === 'setpoints';

/** Set-points are round numbers, and a zone that is heated is hotter than this; common practice, no source. */
const ROUND_C = 5;
const HOT_FROM_C = 100;

function valueAs(rows: readonly SignalRow[], role: string): number | null {
  const row = rows.find((one) => one.role === role);
  return row === undefined ? null : roleValue(row);
}

/** Round numbers near what the zones show; null = one of them is not hot. */
export function setpointsAtHeat(rows: readonly SignalRow[], zones: readonly number[]): readonly number[] | null {
  const shown = zones.map((zone) => valueAs(rows, `t${zone}`) ?? 0);
  return shown.every((c) => c > HOT_FROM_C) ? shown.map((c) => ROUND_C * Math.round(c / ROUND_C)) : null;
}

/** The settings to save, how many values they change, and whether all can be saved. */
export function settingsWith({ setSpeedMmPerS, setpointsC }: UnsentValues, saved: LineSettings) {
  const changed = (setpointsC ?? []).filter((c, i) => c !== null && c !== (saved.setpointsC[i] ?? null));
  const hasSpeed = setSpeedMmPerS !== null;
  return {
    body: {
      ...(hasSpeed ? { setSpeedMmPerS } : {}),
      ...(changed.length > 0 ? { setpointsC: [...(setpointsC ?? [])] } : {}),
    },
    count: changed.length + (hasSpeed ? 1 : 0),
    areValid:
      (!hasSpeed || isWithin(setSpeedMmPerS, SPEED_BOUNDS)) && changed.every((c) => isWithin(c, SETPOINT_BOUNDS)),
  };
}
