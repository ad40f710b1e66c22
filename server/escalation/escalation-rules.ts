import type { Priority } from '../alarm/alarm.ts';
import { pointerTo } from '../problem/pointer.ts';
import { Problem } from '../problem/problem.ts';
import { isClockTime } from './contact.ts';

/** How people are called, whoever they are. Defaults are common practice, no source. */
export interface EscalationRules {
  /** Address under which people reach the page, for the links in messages; '' = messages carry none. */
  readonly pageAddress: string;
  /** The next round is called after so long without an acknowledgement, min. */
  readonly escalateAfterMin: number;
  /** An alarm that nobody acknowledged is told again so often, min; 0 = never. */
  readonly remindEveryMin: Readonly<Record<Priority, number>>;
  /** When drills begin by themselves; null = only by the button. */
  readonly drill: DrillSchedule | null;
  /** Whoever has not confirmed a drill by then was not reached, min. */
  readonly drillAnswerWithinMin: number;
  /**
   * Asked with GET for as long as this service watches, whatever alarms stand, so that somebody outside can miss it;
   * '' = nowhere. Secret: it may hold a token.
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

/** @throws Problem `bad-setting`: points to the rule */
export function checkRules(rules: EscalationRules): EscalationRules {
  const { pageAddress, heartbeatAddress, drill } = rules;
  for (const [address, what, pointer] of [
    [pageAddress, 'The address of the page', '/pageAddress'],
    [heartbeatAddress, 'The heartbeat address', '/heartbeatAddress'],
  ] as const) {
    if (address === '' || (URL.canParse(address) && /^https?:$/.test(new URL(address).protocol))) continue;
    throw new Problem('bad-setting', `${what} can't be used.`, 'Give it with http:// or https:// before it.', {
      pointer,
    });
  }
  const numbers: readonly (readonly [number, number, number, string, string])[] = [
    [rules.escalateAfterMin, 1, 240, 'The time until the next person is called', '/escalateAfterMin'],
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
      'Choose at least one day and a time, as 18:30.',
      { pointer: isClockTime(drill.at) ? '/drill/weekdays' : '/drill/at' },
    );
  }
  return { ...rules, pageAddress: pageAddress.replace(/\/+$/, '') };
}
