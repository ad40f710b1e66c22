import { signal } from '@preact/signals';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { say } from '../shell/notice.tsx';
import { untilText } from './alarm-text.ts';

/** Why the last alarm action failed; null = it succeeded. */
export const answerFailed = signal<ServiceProblem | null>(null);

/** Waits for an alarm action and keeps its problem for the page to show. Returns the service's answer; null = it failed. */
export async function answer<T>(asked: Promise<T>): Promise<T | null> {
  try {
    const told = await asked;
    answerFailed.value = null;
    return told;
  } catch (thrown) {
    answerFailed.value = asProblem(thrown);
    return null;
  }
}

/** @param forMin null = until the run ends */
export async function shelve({ id }: AlarmView, forMin: number | null, reason: string): Promise<boolean> {
  const told = await answer(call('POST /api/alarms/:id/shelve', { params: { id }, body: { forMin, reason } }));
  if (told === null) return false;
  say({ text: `${told.title} rests ${untilText(told.suppression)}.`, undo: () => void wake(told) });
  return true;
}

export async function wake({ id, state }: AlarmView): Promise<void> {
  const params = { id };
  const told = await answer(
    state === 'outOfService'
      ? call('POST /api/alarms/:id/return-to-service', { params })
      : call('POST /api/alarms/:id/unshelve', { params }),
  );
  if (told !== null) say({ text: `${told.title} is watched again.` });
}
