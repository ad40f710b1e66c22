import type { LineSettings } from '../../server/settings/line-settings.ts';

export interface SettingsGroup {
  readonly title: string;
  readonly text: string;
  readonly names: readonly (keyof LineSettings)[];
}

/** Asked for in the guided part of the page, or answered by what else a user does there. */
const GUIDED: readonly (keyof LineSettings)[] = ['source', 'roles', 'unusedFields', 'pathMeasured'];

/** The settings in the order in which a new user needs them. */
export const GROUPS: readonly [SettingsGroup, ...SettingsGroup[]] = [
  {
    title: 'The filament',
    text: 'What the strand is judged against.',
    names: [
      'nominalMm',
      'toleranceMm',
      'hotendLimitMm',
      'smallestFeedableMm',
      'strandPresentMm',
      'offToleranceLengthMm',
      'densityGPerCm3',
    ],
  },
  {
    title: 'The line',
    text: 'How the strand runs from the gauge to the winder.',
    names: [
      'lineName',
      'gaugeToWinderMm',
      'setSpeedMmPerS',
      'gaugeUncertaintyMm',
      'gaugeApertureMm',
      'gaugeAveragingMs',
    ],
  },
  {
    title: 'The spool',
    text: 'Layers and turns follow from its dimensions. Shorter coils than the shortest are not kept.',
    names: ['spoolCoreMm', 'spoolFlangeMm', 'spoolWidthMm', 'windingPitchMm', 'wantedOnSpoolM', 'shortestCoilMm'],
  },
  {
    title: 'Rollers, gears and control',
    text: 'With these, Strandward can name what may cause a periodic fault.',
    names: ['rollerCircumferenceMm', 'setScrewTurnsPerMin', 'controlPeriodS', 'gears'],
  },
  {
    title: 'The heat',
    text: 'The heated zones, and how hot is too hot.',
    names: ['zoneNames', 'setpointsC', 'atHeatWithinC', 'absoluteLimitC'],
  },
  {
    title: 'Start and end of a run',
    text: 'When winding may begin, and when a run is over.',
    names: ['soakMin', 'charAfterMin', 'settleLengthMm', 'stopAfterMin'],
  },
  {
    title: 'The record',
    text: 'How long single readings are kept, how full the disk may get, and how often a backup is made.',
    names: ['keepReadingsDays', 'recordLimitGb', 'freeSpaceAlarmGb', 'backupEveryDays', 'backupsKept'],
  },
  {
    title: 'The reading lines',
    text: 'Only if the format is not recognised.',
    names: ['shape', 'checksum', 'columnNames', 'pointedAt'],
  },
];

/** Settings of the schema that are in no group. They are shown last, so that a new setting is never hidden. */
export function ungrouped(names: readonly string[]): string[] {
  const known = new Set<string>([...GUIDED, ...GROUPS.flatMap((group) => group.names)]);
  return names.filter((name) => !known.has(name));
}
