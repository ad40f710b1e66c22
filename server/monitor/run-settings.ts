import type { RunSettings } from '../entities/run.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import { DETECTOR_VERSION } from '../strand/section-detector.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import { strandLimits } from './settings-to-parts.ts';

/** What a spool was wound under. */
export interface SpoolSettings extends Omit<RunSettings, 'fromGaugeMm' | 'detectorVersion'> {
  /** The limits were changed while it was wound; those that held last are given. */
  readonly limitsChanged: boolean;
  /** Its recorded sections were all found by these limits, by the detector of today. */
  readonly foundByThese: boolean;
}

/** The settings that a run keeps, as they are now. */
export function runSettingsNow(settings: LineSettings, fromGaugeMm: number): RunSettings {
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
 * What held while the strand between two gauge lengths passed.
 * @param kept in the order in which they came into force; what a run does not tell is taken as it is set now
 */
export function settingsOf(
  fromGaugeMm: number,
  toGaugeMm: number,
  kept: readonly RunSettings[],
  now: RunSettings,
): SpoolSettings {
  const last = kept.findLast((one) => one.fromGaugeMm < toGaugeMm) ?? kept[0] ?? now;
  // A new path counts from the next spool on, so it is the one from when this spool began that counts.
  const began = kept.findLast((one) => one.fromGaugeMm <= fromGaugeMm + one.gaugeToWinderMm) ?? kept[0] ?? now;
  const firstAt = Math.max(
    0,
    kept.findLastIndex((one) => one.fromGaugeMm <= fromGaugeMm),
  );
  const held = kept.slice(firstAt, kept.indexOf(last) + 1);
  const limitsChanged = held.some(({ limits }) => !sameLimits(limits, last.limits));
  return {
    limits: last.limits,
    gaugeToWinderMm: began.gaugeToWinderMm,
    densityGPerCm3: last.densityGPerCm3,
    limitsChanged,
    foundByThese:
      held.length > 0 && !limitsChanged && held.every((one) => (one.detectorVersion ?? 1) === DETECTOR_VERSION),
  };
}

/** Whether they say the same, wherever they came into force. */
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
