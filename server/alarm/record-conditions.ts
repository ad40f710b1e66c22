import type { AlarmType, Condition } from './alarm.ts';
import { duration } from './plain-numbers.ts';

/** `trouble`: why nothing can be written, as a sentence; null = recording works. */
export const recordFailingCondition = (trouble: string | null): Condition => ofRecord('recordFailing', trouble);

/** `left`: the space left, as text; null = enough. */
export const diskFillingCondition = (left: string | null): Condition => ofRecord('diskFilling', left);

/** `damage`: what the last checks found, as text; null = nothing. */
export const recordDamagedCondition = (damage: string | null): Condition => ofRecord('recordDamaged', damage);

/** Wrong keys, tokens and codes from one address. */
export interface Guessing {
  readonly address: string;
  readonly count: number;
}

/** `guessing`: addresses that guess now, the one with most wrong keys first. */
export function keysGuessedCondition([first, ...others]: readonly Guessing[]): Condition {
  return ofRecord('keysGuessed', first === undefined ? null : guessingText(first, others));
}

function guessingText({ address, count }: Guessing, others: readonly Guessing[]): string {
  const more = others.reduce((sum, other) => sum + other.count, 0);
  const elsewhere = others.length === 1 ? 'another address' : `${others.length} other addresses`;
  return `${count} wrong ones came from ${address}${more === 0 ? '' : `, and ${more} from ${elsewhere}`}`;
}

/** `text`: what is wrong; null = nothing. */
function ofRecord(type: AlarmType, text: string | null): Condition {
  return { type, subject: '', active: text !== null, facts: text === null ? {} : { text } };
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
  return ofRecord('runDatedWrong', wrong && datedWrongText(wrong));
}

function datedWrongText({ aheadMs, endedRunId }: DatedWrong): string {
  const by = duration(Math.abs(aheadMs) / 1000);
  return endedRunId === null
    ? `the clock of this machine was moved ${aheadMs > 0 ? 'forward' : 'back'} by ${by} after it had started`
    : `run ${endedRunId} is dated ${by} too ${aheadMs > 0 ? 'early' : 'late'}`;
}
