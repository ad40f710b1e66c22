import { COLD_BELOW_C } from './healthy-zone.ts';
import type { ZoneDoing } from './zone-status.ts';

/** A change slower than this is none, K/s. */
const STEADY_K_PER_S = 0.05;

/**
 * What a healthy zone is doing. All temperatures in °C; `setpointC` and `power` are NaN where the line does not send
 * them. `inBand`: at its set-point.
 */
export function doingOf(zone: {
  readonly temperatureC: number;
  readonly setpointC: number;
  readonly power: number;
  readonly inBand: boolean;
  /** Change over the last seconds, K/s; NaN while too little is known. */
  readonly slopeKPerS: number;
}): ZoneDoing {
  const { temperatureC, setpointC, power, slopeKPerS } = zone;
  if (!Number.isFinite(temperatureC)) return 'unknown';
  if (setpointC > 0) {
    if (zone.inBand) return 'holding';
    return temperatureC < setpointC ? 'heating' : 'cooling';
  }
  if (setpointC === 0) return temperatureC < COLD_BELOW_C ? 'off' : 'cooling';
  if (Number.isFinite(power) && power <= 0.02) return temperatureC < COLD_BELOW_C ? 'off' : 'cooling';
  if (slopeKPerS > STEADY_K_PER_S) return 'heating';
  if (slopeKPerS < -STEADY_K_PER_S) return temperatureC < COLD_BELOW_C ? 'off' : 'cooling';
  if (power > 0.02) return 'holding';
  if (Number.isFinite(slopeKPerS)) return temperatureC < COLD_BELOW_C ? 'off' : 'holding';
  return 'unknown';
}
