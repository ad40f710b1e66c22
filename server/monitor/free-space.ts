import { Problem } from '../problem/problem.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import type { RecordMaintenance } from './ports/maintenance.ts';

/**
 * Refuses what would take the room that the watching needs.
 * @throws Problem `wrong-state`
 */
export function requireFreeSpace(
  maintenance: Pick<RecordMaintenance, 'freeBytes'>,
  settings: () => Pick<LineSettings, 'freeSpaceAlarmGb'>,
): (bytes: number) => void {
  return (bytes) => {
    if (maintenance.freeBytes() - bytes >= settings().freeSpaceAlarmGb * 1e9) return;
    const short =
      bytes === 0
        ? 'less is left than is to be kept free'
        : `about ${Math.ceil(bytes / 1e6)} MB are needed beyond the free space that is to be kept`;
    throw new Problem(
      'wrong-state',
      `The disk of the record has not enough room for it: ${short}.`,
      'Make room on the disk, or let old readings go (Set-up, Record), then try again.',
    );
  };
}
