import type { PrintAmount } from '../strand/verdict/print-fit.ts';
import type { Condition } from './alarm.ts';

/** The spool being wound, as far as it is full. */
export interface SpoolFilling {
  readonly ordinal: number;
  readonly woundMm: number;
  readonly woundG: number;
  /** Until no more strand fits at the present speed; infinite while the strand stands still. */
  readonly timeToFullS: number;
  /** null = no user has said. */
  readonly wanted: PrintAmount | null;
}

/** Time to fetch the next spool and to change it. Common practice, no source. */
const FULL_IN_S = 600;

/** `spool`: null = none is being wound, or its length is not known. */
export function spoolFullCondition(spool: SpoolFilling | null): Condition {
  const leftS = spool?.timeToFullS ?? Number.POSITIVE_INFINITY;
  return {
    type: 'spoolFull',
    subject: '',
    active: leftS <= FULL_IN_S,
    excess: FULL_IN_S - leftS,
    // In whole minutes, so that the sentence does not change every second.
    facts:
      spool === null || !(leftS < 24 * 3600) ? {} : { spoolOrdinal: spool.ordinal, forS: Math.ceil(leftS / 60) * 60 },
  };
}

/** `spool`: as above. */
export function wantedReachedCondition(spool: SpoolFilling | null): Condition {
  const wanted = spool?.wanted ?? null;
  if (spool === null || wanted === null) return { type: 'wantedReached', subject: '', active: false, facts: {} };
  const held = wanted.unit === 'metres' ? spool.woundMm / 1000 : spool.woundG;
  return {
    type: 'wantedReached',
    subject: '',
    active: held >= wanted.amount,
    facts: { spoolOrdinal: spool.ordinal, text: amountText(wanted) },
  };
}

/** "250 m", "750 g". */
export function amountText({ amount, unit }: PrintAmount): string {
  return `${Math.round(amount * 100) / 100}\u00a0${unit === 'metres' ? 'm' : 'g'}`;
}
