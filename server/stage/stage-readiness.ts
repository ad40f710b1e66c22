import type { ZoneStatus } from '../heat/zone-status.ts';

/** A zone above this is being heated even if no set-point says so: no workshop is this hot (common practice, no source). */
const WARM_C = 45;

/** Whether this zone is meant to be hot: by its set-point where one is sent, else by its power or state. */
export function isHeated(zone: ZoneStatus): boolean {
  const power = zone.power ?? 0;
  if (zone.setpointC !== null) {
    if (!(zone.setpointC > 0)) return false;
    return (
      power > 0 ||
      zone.doing === 'heating' ||
      zone.doing === 'holding' ||
      zone.doing === 'away' ||
      zone.doing === 'faulty' ||
      (zone.temperatureC ?? 0) > WARM_C
    );
  }
  if (zone.power !== null && power > 0) return true;
  if (zone.doing === 'heating') return true;
  return zone.power === null && (zone.temperatureC ?? 0) > WARM_C;
}

/** True also for a zone without a set-point, or one that is switched off: no heat is missing there. */
export function isAtHeat(zone: ZoneStatus): boolean {
  return zone.setpointC === null || !(zone.setpointC > 0) || zone.atHeatSinceMs !== null;
}

/** What the heat still lacks, at most one phrase per zone; empty = nothing. */
export function missingHeat(zones: readonly ZoneStatus[], zoneName: (zone: number) => string): string[] {
  const missing: string[] = [];
  let anySetpoint = false;
  let anyWanted = false;
  for (const zone of zones) {
    if (zone.setpointC !== null) anySetpoint = true;
    if (zone.setpointC !== null && zone.setpointC > 0) anyWanted = true;
    if (zone.setpointC === null || isAtHeat(zone)) continue;
    const name = zoneName(zone.zone);
    if (zone.temperatureC === null) {
      missing.push(`${name} sends no temperature`);
      continue;
    }
    const short = zone.setpointC - zone.temperatureC;
    const kelvin = Math.round(Math.abs(short));
    if (kelvin < 1) missing.push(`${name} is not yet steady at its set-point`);
    else missing.push(`${name} is ${kelvin} K ${short > 0 ? 'below' : 'above'} its set-point`);
  }
  if (anySetpoint && !anyWanted) missing.push('the heaters are off');
  return missing;
}

/** What is missing before the screw may turn, which is every zone at heat and soaked; empty = nothing. */
export function missingForScrew(
  zones: readonly ZoneStatus[],
  zoneName: (zone: number) => string,
  soakMin: number,
  timeMs: number,
): string[] {
  const missing = missingHeat(zones, zoneName);
  const since = allAtHeatSinceMs(zones);
  if (missing.length > 0) return missing;
  if (since === null) return ['see for yourself that the barrel has soaked, because no set-point is sent'];
  return missingSoak(since, soakMin, timeMs);
}

/** The rest of the soak, in whole minutes, since all zones reached heat; empty = it is over. */
export function missingSoak(sinceMs: number, soakMin: number, timeMs: number): string[] {
  const leftS = soakMin * 60 - (timeMs - sinceMs) / 1000;
  return leftS > 0 ? [`${Math.ceil(leftS / 60)} min of soaking`] : [];
}

/** When the last heated zone reached heat, UTC ms; null = not all have, or no set-point asks for heat. */
export function allAtHeatSinceMs(zones: readonly ZoneStatus[]): number | null {
  let since: number | null = null;
  for (const zone of zones) {
    if (zone.setpointC === null || !(zone.setpointC > 0)) continue;
    if (zone.atHeatSinceMs === null) return null;
    if (since === null || zone.atHeatSinceMs > since) since = zone.atHeatSinceMs;
  }
  return since;
}
