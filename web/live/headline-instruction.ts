import type { AlarmView } from '../../server/api/contract/alarms.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { firstSentence } from '../../server/problem/sentence.ts';

/** The first thing to do about an alarm: the first sentence of its check. A question is marked as something to check. */
export function instructionOf({ firstCheck }: Pick<AlarmView, 'firstCheck'>): string | null {
  const first = firstSentence(firstCheck);
  if (first === '') return null;
  return first.endsWith('?') ? `Check first: ${first.charAt(0).toLowerCase()}${first.slice(1)}` : first;
}

/** Changes whenever a screen reader should read the headline out: with the state or a new occurrence, not with each number. */
export function spokenKey(state: Pick<LiveState, 'sentence' | 'severity' | 'sentenceAlarmId' | 'alarms'>): string {
  const alarm = state.alarms.find(({ id }) => id === state.sentenceAlarmId);
  return [state.severity, alarm?.id, alarm?.occurrences, state.sentence.replace(/\d[\d.,]*/g, '#')].join(' ');
}
