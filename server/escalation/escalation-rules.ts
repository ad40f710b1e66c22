import type { Priority } from '../alarm/alarm.ts';
import { pointerTo } from '../problem/pointer.ts';
import { Problem } from '../problem/problem.ts';
import { isClockTime } from './contact.ts';

/** How people are notified. Defaults are common practice, no source. */
export interface EscalationRules {
  /** Address of the page, for links in messages; '' = messages contain no links. */
  readonly pageAddress: string;
  /** Time without an acknowledgement until the next round is notified, min. */
  readonly escalateAfterMin: number;
  /** Time between reminders of an unacknowledged alarm, min; 0 = no reminders. */
  readonly remindEveryMin: Readonly<Record<Priority, number>>;
  /** When drills start automatically; null = only by the button. */
  readonly drill: DrillSchedule | null;
  /** Time to confirm a drill; anyone who has not confirmed by then counts as not reached, min. */
  readonly drillAnswerWithinMin: number;
  /**
   * Requested with GET for as long as this service is watching, whatever the alarms, so that an outside monitor notices when it
   * stops; '' = none. Secret: it may contain a token.
   */
  readonly heartbeatAddress: string;
  readonly heartbeatEveryS: number;
}

export interface DrillSchedule {
  /** 0 = Sunday … 6 = Saturday. */
  readonly weekdays: readonly number[];
  /** Local time "HH:MM". */
  readonly at: string;
}

export const DEFAULT_RULES: EscalationRules = {
  pageAddress: '',
  escalateAfterMin: 5,
  remindEveryMin: { high: 5, medium: 30, low: 0 },
  drill: null,
  drillAnswerWithinMin: 10,
  heartbeatAddress: '',
  heartbeatEveryS: 60,
};

/** @throws Problem `bad-setting`, which points to the rule */
export function checkRules(rules: EscalationRules): EscalationRules {
  const { pageAddress, heartbeatAddress, drill } = rules;
  for (const [address, what, pointer] of [
    [pageAddress, 'The address of the page', '/pageAddress'],
    [heartbeatAddress, 'The heartbeat address', '/heartbeatAddress'],
  ] as const) {
    if (address === '' || (URL.canParse(address) && /^https?:$/.test(new URL(address).protocol))) continue;
    throw new Problem('bad-setting', `${what} is not a web address.`, 'Start it with http:// or https://.', {
      pointer,
    });
  }
  const numbers: readonly (readonly [number, number, number, string, string])[] = [
    [rules.escalateAfterMin, 1, 240, 'The time until the next person is notified', '/escalateAfterMin'],
    [rules.drillAnswerWithinMin, 1, 120, 'The time to confirm an alarm test', '/drillAnswerWithinMin'],
    [rules.heartbeatEveryS, 10, 3600, 'The time between two heartbeats', '/heartbeatEveryS'],
    ...Object.entries(rules.remindEveryMin).map(
      ([priority, min]) => [min, 0, 1440, 'The time between reminders', pointerTo('remindEveryMin', priority)] as const,
    ),
  ];
  for (const [value, least, most, what, pointer] of numbers) {
    if (value >= least && value <= most) continue;
    throw new Problem('bad-setting', `${what} cannot be ${value}.`, `Give a number from ${least} to ${most}.`, {
      pointer,
    });
  }
  if (drill !== null && (!isClockTime(drill.at) || drill.weekdays.length === 0)) {
    throw new Problem(
      'bad-setting',
      'The time of the alarm tests is incomplete.',
      'Choose at least one day and a time such as 18:30.',
      { pointer: isClockTime(drill.at) ? '/drill/weekdays' : '/drill/at' },
    );
  }
  return { ...rules, pageAddress: pageAddress.replace(/\/+$/, '') };
}
