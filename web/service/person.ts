import { signal } from '@preact/signals';

const KEY = 'strandward.person';

/** The user's name on this device, stored by the browser; '' = none. Actions are recorded under it. */
export const personName = signal(localStorage.getItem(KEY) ?? '');

export const PERSON_NAME_MAX = 60;

/**
 * The name for the header Strandward-By; '' = none. A pasted tab, or half a character at the end of a long name, must not make
 * the service refuse every request.
 */
export function personHeader(): string {
  const name = personName
    .peek()
    .slice(0, PERSON_NAME_MAX)
    .replace(/[\p{Cc}\p{Cs}]/gu, '');
  return encodeURIComponent(name.trim());
}

export function setPersonName(name: string): void {
  personName.value = name;
  if (name.trim() === '') localStorage.removeItem(KEY);
  else localStorage.setItem(KEY, name.trim());
}

const ASKED_KEY = 'strandward.person.asked';

/** Whether to ask for the name now: true once on a device. */
export function askForName(): boolean {
  if (localStorage.getItem(ASKED_KEY) !== null) return false;
  localStorage.setItem(ASKED_KEY, 'yes');
  return true;
}
