import { awaitsAcknowledgement } from '../../server/alarm/life-cycle.ts';
import type { AlarmView } from '../../server/api/contract/alarms.ts';

type Known = Pick<AlarmView, 'id' | 'state' | 'occurrences'>;

/** Alarms to sound now: newly raised, or unacknowledged again because they recurred. */
export function newlyRaised<A extends Known>(before: readonly Known[], after: readonly A[]): A[] {
  const known = new Map(before.map((alarm) => [alarm.id, alarm]));
  return after.filter((alarm) => {
    if (!awaitsAcknowledgement(alarm.state)) return false;
    const old = known.get(alarm.id);
    return old === undefined || alarm.occurrences > old.occurrences;
  });
}

const RANK: Record<AlarmView['priority'], number> = { high: 0, medium: 1, low: 2 };

/** The alarm of highest priority; undefined if there is none. */
export function mostUrgent<A extends Pick<AlarmView, 'priority'>>(alarms: readonly A[]): A | undefined {
  return [...alarms].sort((a, b) => RANK[a.priority] - RANK[b.priority])[0];
}

const LOST_SOUNDS_AFTER_MS = 10_000;
/** How often an unanswered high-priority alarm, or a lost connection, sounds again. */
export const REPEAT_MS = 20_000;

/**
 * Whether a lost connection must sound now, whatever else has just sounded. All times in ms by the same clock.
 * @param soundedMs when a lost connection last sounded
 */
export function lossSounds(sinceMs: number, soundedMs: number, nowMs: number): boolean {
  if (nowMs - sinceMs < LOST_SOUNDS_AFTER_MS) return false;
  return soundedMs < sinceMs || nowMs - soundedMs >= REPEAT_MS;
}

const TICKS_FROM_S = 60;

/** Time between two ticks while a blob nears the winder, ms: from one every 4 s to four a second. null = no tick yet. */
export function tickEveryMs(reachesWinderInS: number): number | null {
  if (reachesWinderInS > TICKS_FROM_S) return null;
  return Math.max(250, (4000 * reachesWinderInS) / TICKS_FROM_S);
}
