import { signal } from '@preact/signals';
import type { AlarmView } from '../../server/api/contract.ts';
import { asProblem, request, type ServiceProblem } from '../service/request.ts';
import { say } from '../shell/notice.tsx';
import { untilWords } from './rest-words.ts';

const KEY = 'strandward.person';

/** Who answers at this device; kept by the browser. '' = nobody has said. */
export const personName = signal(localStorage.getItem(KEY) ?? '');

export function namePerson(name: string): void {
  personName.value = name;
  if (name.trim() === '') localStorage.removeItem(KEY);
  else localStorage.setItem(KEY, name.trim());
}

/** Why the last answer could not be given. */
export const answerFailed = signal<ServiceProblem | null>(null);

/** @throws ServiceProblem */
export function tell<T>(method: 'POST' | 'PUT', path: string, body: object = {}): Promise<T> {
  const name = personName.value.trim();
  return request<T>(method, path, name === '' ? body : { ...body, by: name });
}

/** Gives an answer, and keeps what went wrong for the page to show. The answer; null = it was not given. */
export async function answer<T = AlarmView>(path: string, body?: object): Promise<T | null> {
  try {
    const told = await tell<T>('POST', path, body);
    answerFailed.value = null;
    return told;
  } catch (thrown) {
    answerFailed.value = asProblem(thrown);
    return null;
  }
}

/** @param forMin null = until the run ends */
export async function shelve(alarm: AlarmView, forMin: number | null, reason: string): Promise<boolean> {
  const told = await answer(`/api/alarms/${alarm.id}/shelve`, { forMin, reason });
  if (told === null) return false;
  say({ text: `${told.title} rests ${untilWords(told.rest)}.`, undo: () => void wake(told) });
  return true;
}

export async function wake(alarm: AlarmView): Promise<void> {
  const how = alarm.state === 'outOfService' ? 'return-to-service' : 'unshelve';
  const told = await answer(`/api/alarms/${alarm.id}/${how}`);
  if (told !== null) say({ text: `${told.title} is watched again.` });
}
