import type { ZoneStatus } from '../heat/zone-status.ts';

/** A zone above this without a set-point that says so is being heated; a workshop is never as hot (common practice). */
const WARM_C = 45;

/** Whether somebody wants this zone hot: by its set-point where it is sent, else by its power or what it does. */
export function isHeated(zone: ZoneStatus): boolean {
  const power = zone.power ?? 0;
  if (zone.setpointC !== null) {
    if (!(zone.setpointC > 0)) return false;
    return (
      power > 0 ||
      zone.doing === 'heating' ||
      zone.doing === 'holding' ||
      zone.doing === 'faulty' ||
      (zone.temperatureC ?? 0) > WARM_C
    );
  }
  if (zone.power !== null && power > 0) return true;
  if (zone.doing === 'heating') return true;
  return zone.power === null && (zone.temperatureC ?? 0) > WARM_C;
}

/** Zones of which heat is wanted and known to be wanted: only they can be short of it. */
export function isAtHeat(zone: ZoneStatus): boolean {
  return zone.setpointC === null || !(zone.setpointC > 0) || zone.atHeatSinceMs !== null;
}

/** What keeps the heat from being ready, one phrase a zone at most; empty = nothing. */
export function missingHeat(zones: readonly ZoneStatus[], zoneName: (zone: number) => string): string[] {
  const missing: string[] = [];
  let anyTold = false;
  let anyWanted = false;
  for (const zone of zones) {
    if (zone.setpointC !== null) anyTold = true;
    if (zone.setpointC !== null && zone.setpointC > 0) anyWanted = true;
    if (isAtHeat(zone)) continue;
    const name = zoneName(zone.zone);
    if (zone.temperatureC === null) {
      missing.push(`${name} sends no temperature`);
      continue;
    }
    const short = (zone.setpointC as number) - zone.temperatureC;
    const kelvin = Math.round(Math.abs(short));
    if (kelvin < 1) missing.push(`${name} is not yet steady at its set-point`);
    else missing.push(`${name} is ${kelvin} K ${short > 0 ? 'below' : 'above'} its set-point`);
  }
  if (anyTold && !anyWanted) missing.push('the heaters are off');
  return missing;
}

/** What is still missing before the screw may turn: every zone at heat, and soaked; empty = it may. */
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

/** What is left of the soak since all zones are at heat, in whole minutes; empty = it is over. */
export function missingSoak(sinceMs: number, soakMin: number, timeMs: number): string[] {
  const leftS = soakMin * 60 - (timeMs - sinceMs) / 1000;
  return leftS > 0 ? [`${Math.ceil(leftS / 60)} min of soaking`] : [];
}

/** When the last of the heated zones came to heat, UTC ms; null = not all are, or none is told to be. */
export function allAtHeatSinceMs(zones: readonly ZoneStatus[]): number | null {
  let since: number | null = null;
  for (const zone of zones) {
    if (zone.setpointC === null || !(zone.setpointC > 0)) continue;
    if (zone.atHeatSinceMs === null) return null;
    if (since === null || zone.atHeatSinceMs > since) since = zone.atHeatSinceMs;
  }
  return since;
}
