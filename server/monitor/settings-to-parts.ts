import type { Spool } from '../entities/spool.ts';
import type { HeatLimits } from '../heat/zone-status.ts';
import type { IntakeOptions } from '../reading/intake-options.ts';
import { inRoleUnit } from '../reading/units.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import type { Source } from '../source/source.ts';
import type { StageOptions } from '../stage/stage-tracker.ts';
import type { GaugeOptics } from '../strand/blindness.ts';
import type { LineParts } from '../strand/spectrum/named-causes.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import type { PrintAmount } from '../strand/verdict/print-fit.ts';

/** Selects from the line's settings what each part needs. */

export function strandLimits(settings: LineSettings): StrandLimits {
  const {
    nominalMm,
    toleranceMm,
    hotendLimitMm,
    smallestFeedableMm,
    strandPresentMm,
    offToleranceLengthMm,
    gaugeUncertaintyMm,
    gaugeApertureMm,
    gaugeAveragingMs,
  } = settings;
  return {
    nominalMm,
    toleranceMm,
    hotendLimitMm,
    smallestFeedableMm,
    strandPresentMm,
    offToleranceLengthMm,
    gaugeUncertaintyMm,
    gaugeApertureMm,
    gaugeAveragingMs,
  };
}

/** Moving parts of the line that can cause periodic faults. @param sentTurnsPerMin screw speed sent by the line; null = not sent */
export function lineParts(settings: LineSettings, sentTurnsPerMin: number | null): LineParts {
  const { rollerCircumferenceMm, setScrewTurnsPerMin, gears, controlPeriodS } = settings;
  const screwTurnsPerMin = sentTurnsPerMin ?? setScrewTurnsPerMin;
  return {
    rollerCircumferenceMm: rollerCircumferenceMm > 0 ? rollerCircumferenceMm : null,
    screwTurnsPerMin: screwTurnsPerMin > 0 ? screwTurnsPerMin : null,
    gears,
    controlPeriodS: controlPeriodS > 0 ? controlPeriodS : null,
  };
}

export function gaugeOptics({ gaugeApertureMm, gaugeAveragingMs }: LineSettings): GaugeOptics {
  return { apertureMm: gaugeApertureMm, averagingS: gaugeAveragingMs / 1000 };
}

export function heatLimits(settings: LineSettings): HeatLimits {
  return {
    absoluteLimitC: settings.absoluteLimitC,
    atHeatWithinC: settings.atHeatWithinC,
    setpointsC: settings.setpointsC,
  };
}

export function stageOptions(settings: LineSettings): StageOptions {
  const { nominalMm, toleranceMm, strandPresentMm, settleLengthMm, soakMin, zoneNames } = settings;
  return {
    nominalMm,
    toleranceMm,
    strandPresentMm,
    settleLengthMm,
    soakMin,
    zoneNames,
  };
}

export function intakeOptions(
  settings: LineSettings,
  nowMs: number,
  lastReadingMs: number | null,
  recorded?: Source['recorded'],
): IntakeOptions {
  const { shape, checksum, columnNames, pointedAt, roles } = settings;
  return {
    shape,
    checksum,
    columnNames,
    pointedAt,
    roles: roles.map((mapping) => ({ name: mapping.name, role: mapping.role, ...inRoleUnit(mapping) })),
    recordedStartMs: recorded?.startMs ?? nowMs,
    ...(recorded?.rateHz ? { recordedRateHz: recorded.rateHz } : {}),
    ...(lastReadingMs === null ? {} : { notBeforeMs: lastReadingMs }),
  };
}

const READING_RULES = [
  'shape',
  'checksum',
  'columnNames',
  'pointedAt',
  'roles',
] as const satisfies (keyof LineSettings)[];

/** Whether reading lines must be read by other rules. */
export function readingRulesDiffer(a: LineSettings, b: LineSettings): boolean {
  return READING_RULES.some((key) => JSON.stringify(a[key]) !== JSON.stringify(b[key]));
}

/** What a user wants on this spool, else on each; null = no amount. */
export function wantedOn({ wanted }: Pick<Spool, 'wanted'>, { wantedOnSpoolM }: LineSettings): PrintAmount | null {
  return wanted ?? (wantedOnSpoolM > 0 ? { amount: wantedOnSpoolM, unit: 'metres' } : null);
}
