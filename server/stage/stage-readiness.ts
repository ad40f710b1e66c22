import type { ZoneStatus } from '../heat/zone-status.ts';

/** A zone above this is being heated even if no set-point says so: no workshop is this hot (common practice, no source). */
const WARM_C = 45;

/** A set-point is sent, and it does not switch the zone off. */
function asksForHeat(zone: ZoneStatus): zone is ZoneStatus & { readonly setpointC: number } {
  return zone.setpointC !== null && zone.setpointC > 0;
}

/** Whether this zone is meant to be hot: by its set-point where one is sent, else by its power or state. */
export function isHeated(zone: ZoneStatus): boolean {
  const { doing, power, setpointC, temperatureC } = zone;
  if (setpointC !== null && !asksForHeat(zone)) return false;
  if ((power ?? 0) > 0 || doing === 'heating') return true;
  const warm = temperatureC !== null && temperatureC > WARM_C;
  if (setpointC === null) return power === null && warm;
  return doing === 'holding' || doing === 'away' || doing === 'faulty' || warm;
}

/** True also for a zone without a set-point, or one that is switched off: no heat is missing there. */
export function isAtHeat(zone: ZoneStatus): boolean {
  return !asksForHeat(zone) || zone.atHeatSinceMs !== null;
}

/** The name of a zone by its number from the hopper, from 1; "Zone 4" if it has none. */
export function zoneNameOf(zoneNames: readonly string[], zone: number): string {
  return zoneNames[zone - 1] || `Zone ${zone}`;
}

/** What the heat still lacks, at most one phrase per zone; empty = nothing. */
export function missingHeat(zones: readonly ZoneStatus[], zoneNames: readonly string[]): string[] {
  const anySetpoint = zones.some(({ setpointC }) => setpointC !== null);
  if (anySetpoint && !zones.some(asksForHeat)) return ['the heaters are off'];
  const missing: string[] = [];
  for (const zone of zones) {
    if (!asksForHeat(zone) || isAtHeat(zone)) continue;
    const name = zoneNameOf(zoneNames, zone.zone);
    if (zone.temperatureC === null) {
      missing.push(`${name} sends no temperature`);
      continue;
    }
    const short = zone.setpointC - zone.temperatureC;
    const kelvin = Math.round(Math.abs(short));
    if (kelvin < 1) missing.push(`${name} is not yet steady at its set-point`);
    else missing.push(`${name} is ${kelvin} °C ${short > 0 ? 'below' : 'above'} its set-point`);
  }
  return missing;
}

export interface Soak {
  /** Time at temperature before the screw should turn, min. */
  readonly soakMin: number;
  /** All zones were at temperature when the line was first seen, so part of the soak may be over, or all of it. */
  readonly hotWhenFirstSeen: boolean;
}

/** What is missing before the screw may turn, which is every zone at temperature and soaked; empty = nothing. */
export function missingForScrew(
  zones: readonly ZoneStatus[],
  zoneNames: readonly string[],
  soak: Soak,
  timeMs: number,
): string[] {
  const missing = missingHeat(zones, zoneNames);
  if (missing.length > 0) return missing;
  const since = allAtHeatSinceMs(zones);
  if (since === null) return ['check yourself that the barrel has soaked: no set-point is sent'];
  return missingSoak(since, soak, timeMs);
}

/**
 * Whether the strand has become ready to wind, to be announced once.
 * @param before `firstReadyMs` when it was looked at last; undefined = never, and what was ready before is no news
 */
export function becomesReady(before: number | null | undefined, now: number | null): now is number {
  return before !== undefined && now !== null && now !== before;
}

/** The rest of the soak, in whole minutes, since all zones reached heat; empty = it is over. */
export function missingSoak(sinceMs: number, { soakMin, hotWhenFirstSeen }: Soak, timeMs: number): string[] {
  const leftMin = soakLeftMin(sinceMs, soakMin, timeMs);
  return leftMin > 0 ? [`soak ${hotWhenFirstSeen ? 'up to ' : ''}${leftMin} min`] : [];
}

/** In whole minutes, rounded up. */
function soakLeftMin(sinceMs: number, soakMin: number, timeMs: number): number {
  return Math.ceil(Math.max(0, soakMin - (timeMs - sinceMs) / 60_000));
}

/** How much of the soak is left now that the strand comes, as a sentence; null = nothing, or no set-point asks for heat. */
export function skippedSoak(zones: readonly ZoneStatus[], soakMin: number, timeMs: number): string | null {
  if (!zones.some(asksForHeat)) return null;
  const leftMin = soakLeftMin(allAtHeatSinceMs(zones) ?? timeMs, soakMin, timeMs);
  return leftMin > 0 ? `The soak was skipped: ${leftMin} of ${soakMin} min were left when the strand came.` : null;
}

/** When the last heated zone reached heat, UTC ms; null = not all have, or no set-point asks for heat. */
export function allAtHeatSinceMs(zones: readonly ZoneStatus[]): number | null {
  let since: number | null = null;
  for (const zone of zones) {
    if (!asksForHeat(zone)) continue;
    if (zone.atHeatSinceMs === null) return null;
    if (since === null || zone.atHeatSinceMs > since) since = zone.atHeatSinceMs;
  }
  return since;
}
