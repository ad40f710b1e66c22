import { signal } from '@preact/signals';

const KEY = 'strandward.person';

/** Your name on this device, kept by the browser; '' = none given. The record keeps what you do under it. */
export const personName = signal(localStorage.getItem(KEY) ?? '');

export function namePerson(name: string): void {
  personName.value = name;
  if (name.trim() === '') localStorage.removeItem(KEY);
  else localStorage.setItem(KEY, name.trim());
}
