import type { RunSettings } from '../../entities/run.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import { DETECTOR_VERSION } from '../../strand/section-detector.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import { strandLimits } from '../settings-to-parts.ts';

/** The settings under which a spool was wound. */
export interface SpoolSettings extends Omit<RunSettings, 'fromGaugeMm' | 'detectorVersion'> {
  /** The limits changed during winding; `limits` holds the last ones. */
  readonly limitsChanged: boolean;
  /** All recorded sections were found with these limits and the current version of the detector. */
  readonly foundByThese: boolean;
}

/** The part of the current settings that is stored with a run. */
export function currentRunSettings(settings: LineSettings, fromGaugeMm: number): RunSettings {
  const { gaugeToWinderMm, densityGPerCm3 } = settings;
  return {
    fromGaugeMm,
    limits: strandLimits(settings),
    gaugeToWinderMm,
    densityGPerCm3,
    detectorVersion: DETECTOR_VERSION,
  };
}

/**
 * The settings in force while the strand between two gauge lengths passed.
 * @param stored in the order in which they came into force; may be empty
 * @param current used where the run has stored none
 */
export function settingsOf(
  fromGaugeMm: number,
  toGaugeMm: number,
  stored: readonly RunSettings[],
  current: RunSettings,
): SpoolSettings {
  const last = stored.findLast((one) => one.fromGaugeMm < toGaugeMm) ?? stored[0] ?? current;
  // A changed path applies from the next spool on, so the one at the start of this spool counts.
  const atStart =
    stored.findLast((one) => one.fromGaugeMm <= fromGaugeMm + one.gaugeToWinderMm) ?? stored[0] ?? current;
  const firstIndex = Math.max(
    0,
    stored.findLastIndex((one) => one.fromGaugeMm <= fromGaugeMm),
  );
  const inForce = stored.slice(firstIndex, stored.indexOf(last) + 1);
  const limitsChanged = inForce.some(({ limits }) => !sameLimits(limits, last.limits));
  return {
    limits: last.limits,
    gaugeToWinderMm: atStart.gaugeToWinderMm,
    densityGPerCm3: last.densityGPerCm3,
    limitsChanged,
    foundByThese:
      inForce.length > 0 && !limitsChanged && inForce.every((one) => (one.detectorVersion ?? 1) === DETECTOR_VERSION),
  };
}

/** Compares everything except where they came into force. */
export function sameRunSettings(a: RunSettings, b: RunSettings): boolean {
  return (
    sameLimits(a.limits, b.limits) &&
    a.gaugeToWinderMm === b.gaugeToWinderMm &&
    a.densityGPerCm3 === b.densityGPerCm3 &&
    (a.detectorVersion ?? 1) === (b.detectorVersion ?? 1)
  );
}

export function sameLimits(a: StrandLimits, b: StrandLimits): boolean {
  const keys = Object.keys({ ...a, ...b }) as (keyof StrandLimits)[];
  return keys.every((key) => a[key] === b[key]);
}
