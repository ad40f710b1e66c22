import { signal } from '@preact/signals';

const KEY = 'strandward.person';

/** Your name on this device, kept by the browser; '' = none given. The record keeps what you do under it. */
export const personName = signal(localStorage.getItem(KEY) ?? '');

const NAME_MAX = 60;

/**
 * The name as the header Strandward-By carries it; '' = none. A pasted tab, or half a character at the end of a long name,
 * must not make the service refuse every request.
 */
export function personHeader(): string {
  const name = personName
    .peek()
    .slice(0, NAME_MAX)
    .replace(/[\p{Cc}\p{Cs}]/gu, '');
  return encodeURIComponent(name.trim());
}

export function namePerson(name: string): void {
  personName.value = name;
  if (name.trim() === '') localStorage.removeItem(KEY);
  else localStorage.setItem(KEY, name.trim());
}
