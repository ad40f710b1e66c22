import { signal } from '@preact/signals';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { showNotice } from '../shell/notice.tsx';
import { untilText } from './alarm-text.ts';

/** Why the last alarm action failed; null = it succeeded. */
export const answerFailed = signal<ServiceProblem | null>(null);

/** Waits for an alarm action and keeps its problem for the page to show. Returns the service's answer; null = it failed. */
export async function answer<T>(request: Promise<T>): Promise<T | null> {
  try {
    const result = await request;
    answerFailed.value = null;
    return result;
  } catch (thrown) {
    answerFailed.value = asProblem(thrown);
    return null;
  }
}

/** @param forMin null = until the run ends */
export async function shelve({ id }: AlarmView, forMin: number | null, reason: string): Promise<boolean> {
  const result = await answer(call('POST /api/alarms/:id/shelve', { params: { id }, body: { forMin, reason } }));
  if (result === null) return false;
  showNotice({
    text: `${result.title} is silenced ${untilText(result.suppression)}.`,
    undo: () => void endSuppression(result),
  });
  return true;
}

export async function endSuppression({ id, state }: AlarmView): Promise<void> {
  const params = { id };
  const result = await answer(
    state === 'outOfService'
      ? call('POST /api/alarms/:id/return-to-service', { params })
      : call('POST /api/alarms/:id/unshelve', { params }),
  );
  if (result !== null) showNotice({ text: `${result.title} is watched again.` });
}
