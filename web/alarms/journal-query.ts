import type { AlarmStep } from '../../server/alarm/alarm.ts';

/** What is searched for in the journal. */
export interface JournalSearch {
  readonly words: string;
  readonly step: AlarmStep | '';
  /** As the fields hold them: "2026-11-29", or empty. */
  readonly fromDay: string;
  readonly toDay: string;
}

/** Whole days in the time of this device. */
export function queryOf({ words, step, fromDay, toDay }: JournalSearch) {
  const startMs = (text: string, daysLater: number) => {
    const [year = 0, month = 1, date = 1] = text.split('-').map(Number);
    return new Date(year, month - 1, date + daysLater).getTime();
  };
  return {
    search: words.trim(),
    ...(step !== '' && { step }),
    ...(fromDay !== '' && { from: startMs(fromDay, 0) }),
    ...(toDay !== '' && { to: startMs(toDay, 1) }),
  };
}
