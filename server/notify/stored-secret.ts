import type { PeopleStore } from '../escalation/people-store.ts';

/**
 * Made at the first start and then kept. If it cannot be read, another is made.
 * @param read throws if the text is not what it should be
 */
export function storedSecret<T>(store: PeopleStore, name: string, read: (text: string) => T, make: () => string): T {
  const stored = store.secret(name, read);
  if (stored !== null) return stored;
  const made = make();
  store.keepSecret(name, made);
  return read(made);
}
