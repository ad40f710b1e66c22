import type { Role } from '../reading/names.ts';

/** What a line still needs before everything can be watched, in the order in which it is asked for. */
export const MISSING = ['diameter', 'temperature', 'speed', 'setpoints', 'power', 'path', 'pins'] as const;
export type Missing = (typeof MISSING)[number];

export interface SetUpSoFar {
  /** What the line sends and the mapping names. */
  readonly roles: ReadonlySet<Role>;
  /** Line speed from the settings, mm/s; 0 = not given. */
  readonly setSpeedMmPerS: number;
  /** Set-points from the settings, by zone from 1; null = not given. */
  readonly setpointsC: readonly (number | null)[];
  /** A user has confirmed the path from gauge to winder. */
  readonly pathConfirmed: boolean;
  /** The gauge has been calibrated with pins. */
  readonly calibrated: boolean;
}

export function missingOf({
  roles,
  setSpeedMmPerS,
  setpointsC,
  pathConfirmed,
  calibrated,
}: SetUpSoFar): readonly Missing[] {
  const has = (role: string) => roles.has(role as Role);
  const zones = [1, 2, 3, 4, 5, 6, 7, 8].filter((zone) => has(`t${zone}`));
  const diameter = has('d') || has('dx');
  const missing: readonly (readonly [Missing, boolean])[] = [
    ['diameter', !diameter],
    ['temperature', zones.length === 0],
    ['speed', !has('v') && !has('len') && setSpeedMmPerS === 0],
    ['setpoints', zones.some((zone) => !has(`s${zone}`) && (setpointsC[zone - 1] ?? null) === null)],
    ['power', zones.some((zone) => !has(`p${zone}`))],
    ['path', !pathConfirmed],
    ['pins', diameter && !calibrated],
  ];
  return missing.filter(([, isMissing]) => isMissing).map(([what]) => what);
}
