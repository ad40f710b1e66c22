import { awaitsAcknowledgement } from '../../server/alarm/life-cycle.ts';
import type { AlarmView } from '../../server/api/contract/alarms.ts';

type Known = Pick<AlarmView, 'id' | 'state' | 'occurrences'>;

/** Alarms that a person must hear of now: newly raised, or unacknowledged anew because it happened again. */
export function newlyRaised(before: readonly Known[], after: readonly AlarmView[]): AlarmView[] {
  const known = new Map(before.map((alarm) => [alarm.id, alarm]));
  return after.filter((alarm) => {
    if (!awaitsAcknowledgement(alarm.state)) return false;
    const old = known.get(alarm.id);
    return old === undefined || alarm.occurrences > old.occurrences;
  });
}

const RANK: Record<AlarmView['priority'], number> = { high: 0, medium: 1, low: 2 };

/** The gravest first; undefined of none. */
export function gravest(alarms: readonly AlarmView[]): AlarmView | undefined {
  return [...alarms].sort((a, b) => RANK[a.priority] - RANK[b.priority])[0];
}

const LOST_SOUNDS_AFTER_MS = 10_000;
/** A danger that nobody answered sounds again this often, and so does a lost connection. */
export const REPEAT_MS = 20_000;

/**
 * Whether a connection that is gone must be heard now, whatever else sounded just before. `toldMs`: when a loss was last
 * heard; all by the same clock, ms.
 */
export function lossSounds(sinceMs: number, toldMs: number, nowMs: number): boolean {
  if (nowMs - sinceMs < LOST_SOUNDS_AFTER_MS) return false;
  return toldMs < sinceMs || nowMs - toldMs >= REPEAT_MS;
}
