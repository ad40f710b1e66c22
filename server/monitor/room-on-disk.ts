import type { LineMonitor } from '../../monitor/line-monitor.ts';
import type { RecordHouse } from '../../monitor/ports.ts';
import { Problem } from '../../problem/problem.ts';

/**
 * Refuses what would take the room that the watching needs.
 * @throws Problem `wrong-state`
 */
export function roomOnDisk(house: Pick<RecordHouse, 'freeBytes'>, monitor: LineMonitor): (bytes: number) => void {
  return (bytes) => {
    if (house.freeBytes() - bytes >= monitor.settings.freeSpaceAlarmGb * 1e9) return;
    throw new Problem(
      'wrong-state',
      `The disk of the record has not enough room for it: about ${Math.ceil(bytes / 1e6)} MB are needed beyond the free space that is to be kept.`,
      'Make room on the disk, or let old readings go (Set-up, Record), then try again.',
    );
  };
}
