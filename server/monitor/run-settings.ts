import type { LineSettings } from '../settings/line-settings.ts';
import type { RunSettings, Spool } from './ports.ts';
import { strandLimits } from './settings-to-parts.ts';

/** What a spool was wound under. */
export interface SpoolSettings extends Omit<RunSettings, 'fromGaugeMm'> {
  /** The limits were changed while it was wound; those that held last are given. */
  readonly limitsChanged: boolean;
}

/** The settings that a run keeps, as they are now. */
export function runSettingsNow(settings: LineSettings, fromGaugeMm: number): RunSettings {
  const { gaugeToWinderMm, densityGPerCm3 } = settings;
  return { fromGaugeMm, limits: strandLimits(settings), gaugeToWinderMm, densityGPerCm3 };
}

/** @param kept in the order in which they came into force; what a run does not tell is taken as it is set now */
export function settingsOf(
  spool: Pick<Spool, 'startGaugeMm'>,
  endGaugeMm: number,
  kept: readonly RunSettings[],
  now: RunSettings,
): SpoolSettings {
  const last = kept.findLast(({ fromGaugeMm }) => fromGaugeMm < endGaugeMm) ?? kept[0] ?? now;
  // A new path counts from the next spool on, so it is the one from when this spool began that counts.
  const began = kept.findLast((one) => one.fromGaugeMm <= spool.startGaugeMm + one.gaugeToWinderMm) ?? kept[0] ?? now;
  const first = kept.findLast(({ fromGaugeMm }) => fromGaugeMm <= spool.startGaugeMm) ?? kept[0] ?? now;
  return {
    limits: last.limits,
    gaugeToWinderMm: began.gaugeToWinderMm,
    densityGPerCm3: last.densityGPerCm3,
    limitsChanged: JSON.stringify(first.limits) !== JSON.stringify(last.limits),
  };
}

/** Whether they say the same, wherever they came into force. */
export function sameRunSettings(a: RunSettings, b: RunSettings): boolean {
  const plain = ({ limits, gaugeToWinderMm, densityGPerCm3 }: RunSettings) =>
    JSON.stringify([Object.entries(limits).sort(), gaugeToWinderMm, densityGPerCm3]);
  return plain(a) === plain(b);
}
