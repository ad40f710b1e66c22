import type { Condition } from './alarm.ts';
import { duration } from './plain-numbers.ts';

/** `trouble`: why nothing can be written, as a sentence; null = recording works. */
export function recordFailingCondition(trouble: string | null): Condition {
  return {
    type: 'recordFailing',
    subject: '',
    active: trouble !== null,
    facts: trouble === null ? {} : { text: trouble },
  };
}

/** `left`: the space left, as text; null = enough. */
export function diskFillingCondition(left: string | null): Condition {
  return {
    type: 'diskFilling',
    subject: '',
    active: left !== null,
    facts: left === null ? {} : { text: left },
  };
}

/** `damage`: what the last checks found, as text; null = nothing. */
export function recordDamagedCondition(damage: string | null): Condition {
  return {
    type: 'recordDamaged',
    subject: '',
    active: damage !== null,
    facts: damage === null ? {} : { text: damage },
  };
}

/** A machine without a battery for its clock starts with the date of its last stop, and is set when it reaches the network. */
const DATED_WRONG_S = 600;

/** A run with a wrong date. */
export interface DatedWrong {
  /** How far the wall clock is ahead of the time that the run kept. */
  readonly aheadMs: number;
  /** null = the run in progress. */
  readonly endedRunId: number | null;
}

export function isDatedWrong(aheadMs: number): boolean {
  return Math.abs(aheadMs) / 1000 >= DATED_WRONG_S;
}

/** null = the date of every run is right, as far as is known. */
export function runDatedWrongCondition(wrong: DatedWrong | null): Condition {
  return {
    type: 'runDatedWrong',
    subject: '',
    active: wrong !== null,
    facts: wrong === null ? {} : { text: datedWrongText(wrong) },
  };
}

function datedWrongText({ aheadMs, endedRunId }: DatedWrong): string {
  const by = duration(Math.abs(aheadMs) / 1000);
  return endedRunId === null
    ? `the clock of this machine was moved ${aheadMs > 0 ? 'forward' : 'back'} by ${by} after it had started`
    : `run ${endedRunId} is dated ${by} too ${aheadMs > 0 ? 'early' : 'late'}`;
}
